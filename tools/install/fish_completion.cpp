#include "tools/install/completion.h"
#include "tools/install/help_text.h"

namespace echoloom {

namespace {

std::string fish_quoted(const std::string& text) {
    std::string result = "'";
    for (const char c : text) {
        result += (c == '\'' || c == '\\' ? std::string("\\") : std::string()) + c;
    }
    return result + '\'';
}

/// " -a '...'", or nothing where files of any name will do or nothing is known.
std::string offered(const Completions& values) {
    std::string words;
    const auto add = [&](const std::string& word) { words += (words.empty() ? "" : " ") + word; };
    for (const std::string& word : values.words) {
        add(word);
    }
    for (const std::string& kind : values.shipped) {
        add("(__echoloom_names " + kind + ")");
    }
    for (const std::string& ending : values.endings) {
        add("(__fish_complete_suffix ." + ending + ")");
    }
    if (values.folders && !values.files) {
        add("(__fish_complete_directories)");
    }
    return words.empty() ? "" : " -a " + fish_quoted(words);
}

std::string option_line(const std::string& condition, const OptionHelp& option) {
    const Completions values = completions(option);
    std::string line = "complete -c echoloom" + condition;
    for (const std::string& name : option.names) {
        line += name.starts_with("--") ? " -l " + name.substr(2) : " -s " + name.substr(1);
    }
    if (!option.type.empty()) {
        line += values.files ? " -r -F" : " -x";
        line += offered(values);
    }
    return line + " -d " + fish_quoted(one_line(option.text)) + '\n';
}

/// What is given by its place; files where they will do.
std::string argument_line(const std::string& condition, const OptionHelp& option) {
    const Completions values = completions(option);
    return values.none() ? ""
                         : "complete -c echoloom" + condition + (values.files ? " -F" : "") + offered(values) + '\n';
}

constexpr const char* beginning = R"sh(# Completion of echoloom for fish; made from the program's own options.

function __echoloom_names # phantoms, probes, scans or recipes
    set -l words (commandline -opc)
    )sh";

}  // namespace

std::string fish_completion(const ProgramHelp& help) {
    std::string text = beginning + names_command("$words[1]", "$argv[1]") + "\nend\n\ncomplete -c echoloom -f\n";
    const std::string at_first = " -n __fish_use_subcommand";
    for (const OptionHelp& option : help.program.options) {
        text += option_line(at_first, option);
    }
    for (const CommandHelp& command : help.commands) {
        text += "complete -c echoloom" + at_first + " -a " + command.name + " -d " +
                fish_quoted(in_short(command.text)) + '\n';
    }
    for (const CommandHelp& command : help.commands) {
        const std::string condition = " -n '__fish_seen_subcommand_from " + command.name + "'";
        for (const OptionHelp& option : command.options) {
            text += option.names.empty() ? argument_line(condition, option) : option_line(condition, option);
        }
    }
    return text;
}

}  // namespace echoloom
