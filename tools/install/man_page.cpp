#include "tools/install/man_page.h"

#include <algorithm>
#include <cctype>
#include <sstream>

#include "tools/install/help_text.h"

namespace echoloom {

namespace {

/// Text as troff prints it: what it would take for typesetting (hyphens, quotes, control lines) is what one can copy.
std::string escaped(const std::string& text) {
    std::string result;
    bool line_begins = true;
    for (const char c : text) {
        if (line_begins && (c == '.' || c == '\'')) {
            result += "\\&";
        }
        switch (c) {
            case '\\':
                result += "\\e";
                break;
            case '-':
                result += "\\-";
                break;
            case '\'':
                result += "\\(aq";
                break;
            case '`':
                result += "\\(ga";
                break;
            case '^':
                result += "\\(ha";
                break;
            case '~':
                result += "\\(ti";
                break;
            case '"':
                result += "\\(dq";
                break;
            default:
                result += c;
        }
        line_begins = c == '\n';
    }
    return result;
}

std::string bold(const std::string& text) {
    return "\\fB" + escaped(text) + "\\fR";
}

std::string italic(const std::string& text) {
    return "\\fI" + escaped(text) + "\\fR";
}

std::string upper(std::string text) {
    std::ranges::transform(text, text.begin(), [](unsigned char c) { return static_cast<char>(std::toupper(c)); });
    return text;
}

std::string with_small_first(std::string text) {
    if (text.size() > 1 && std::islower(static_cast<unsigned char>(text[1])) != 0) {
        text[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(text[0])));
    }
    return text;
}

/// No date: pages are the same whenever they are made.
std::string title(const std::string& page, const std::string& version) {
    return ".\\\" Made from the program's own options.\n.TH " + escaped(upper(page)) + " 1 \"\" \"echoloom " + version +
           "\" \"User Commands\"\n";
}

std::string name_section(const std::string& page, const std::string& what) {
    return ".SH NAME\n" + escaped(page) + " \\- " + escaped(with_small_first(what)) + '\n';
}

std::string paragraphs(const std::vector<Paragraph>& all) {
    std::string page;
    bool first = true;
    for (const Paragraph& paragraph : all) {
        const std::string text = escaped(paragraph.text) + '\n';
        if (paragraph.as_it_stands) {
            page += std::string(first ? "" : ".PP\n") + ".EX\n" + text + ".EE\n";
        } else {
            page += (first ? "" : ".PP\n") + text;
        }
        first = false;
    }
    return page;
}

/// What has no heading of its own goes under `heading`, which comes first.
std::string sections(const std::string& help_text, const std::string& heading) {
    std::vector<Paragraph> plain;
    std::string headed;
    for (const HelpSection& section : help_sections(help_text)) {
        if (section.heading.empty()) {
            plain.insert(plain.end(), section.paragraphs.begin(), section.paragraphs.end());
        } else {
            headed += ".SH " + upper(section.heading) + '\n' + paragraphs(section.paragraphs);
        }
    }
    return (plain.empty() ? "" : ".SH " + upper(heading) + '\n' + paragraphs(plain)) + headed;
}

std::string value(const OptionHelp& option) {
    std::string words;
    for (const std::string& choice : option.choices) {
        words += (words.empty() ? "" : "|") + bold(choice);
    }
    return words.empty() ? italic(option.type) : words;
}

std::string option_entry(const OptionHelp& option) {
    std::string head;
    for (const std::string& name : option.names) {
        head += (head.empty() ? "" : ", ") + bold(name);
    }
    if (!option.place.empty()) {
        head = italic(option.place) + (option.repeated ? " ..." : "");
    } else if (!option.type.empty()) {
        head += ' ' + value(option);
    }
    std::string text = escaped(option.text);
    if (!option.place.empty() && !option.choices.empty()) {
        text += ": " + value(option);
    }
    if (option.required && !option.names.empty()) {
        text += " (required)";
    }
    return ".TP\n" + head + '\n' + text + '\n';
}

/// Arguments first, then each group under its name.
std::string option_sections(const CommandHelp& command) {
    std::string arguments;
    std::vector<std::pair<std::string, std::string>> groups;
    for (const OptionHelp& option : command.options) {
        if (option.names.empty()) {
            arguments += option_entry(option);
            continue;
        }
        auto group = std::ranges::find(groups, option.group, &std::pair<std::string, std::string>::first);
        if (group == groups.end()) {
            group = groups.insert(groups.end(), {option.group, ""});
        }
        group->second += option_entry(option);
    }
    std::string page = arguments.empty() ? "" : ".SH ARGUMENTS\n" + arguments;
    page += ".SH OPTIONS\n";
    for (const auto& [name, entries] : groups) {
        page += (groups.size() > 1 ? ".SS " + escaped(name) + '\n' : "") + entries;
    }
    return page;
}

std::string synopsis(const CommandHelp& command) {
    std::string line = ".SH SYNOPSIS\n" + bold("echoloom " + command.name);
    for (const OptionHelp& option : command.options) {
        if (option.names.empty()) {
            const std::string word = italic(option.place) + (option.repeated ? " ..." : "");
            line += option.required ? ' ' + word : " [" + word + ']';
        }
    }
    for (const OptionHelp& option : command.options) {
        if (!option.names.empty() && option.required) {
            line += ' ' + bold(option.names.back()) + ' ' + value(option);
        }
    }
    return line + " [" + italic("OPTION") + " ...]\n";
}

std::string page_name(const CommandHelp& command) {
    return "echoloom-" + command.name;
}

std::string command_list(const ProgramHelp& help) {
    std::string page = ".SH COMMANDS\n";
    for (const CommandHelp& command : help.commands) {
        page += ".TP\n" + bold(page_name(command)) + "(1)\n" + escaped(first_line(command.text)) + '\n';
    }
    return page;
}

constexpr const char* surroundings = R"(.SH ENVIRONMENT
.TP
.B ECHOLOOM_HOME
the folder that holds phantoms, probes, scans, recipes and all else that comes with the program: a checkout, or
.I share/echoloom
of an installation
.TP
.B ECHOLOOM_FONT
a TrueType font for the text in pictures; without it, DejaVu Sans
.SH FILES
What comes with the program is looked for in
.B ECHOLOOM_HOME
alone where that is set; else in
.I ../share/echoloom
as seen from the program, in the checkout whose build folder holds the program, where the program was installed, and
where it was built.
)";

}  // namespace

std::string program_page(const ProgramHelp& help, const std::string& version) {
    return title("echoloom", version) + name_section("echoloom", in_short(help.program.text)) +
           ".SH SYNOPSIS\n.B echoloom\n.I COMMAND\n[" + italic("OPTION") + " ...]\n" +
           sections(help.program.text, "Description") + command_list(help) + option_sections(help.program) +
           sections(help.program.footer, "Notes") + surroundings;
}

std::string command_page(const ProgramHelp& help, const CommandHelp& command, const std::string& version) {
    std::string page = title(page_name(command), version) + name_section(page_name(command), in_short(command.text)) +
                       synopsis(command) + sections(command.text, "Description") + option_sections(command) +
                       sections(command.footer, "Notes") + ".SH SEE ALSO\n.BR echoloom (1)";
    for (const CommandHelp& other : help.commands) {
        if (other.name != command.name) {
            page += ",\n.BR " + escaped(page_name(other)) + " (1)";
        }
    }
    return page + '\n';
}

}  // namespace echoloom
