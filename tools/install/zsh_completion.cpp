#include "tools/install/completion.h"
#include "tools/install/help_text.h"

namespace echoloom {

namespace {

/// `characters` with a backslash before each.
std::string guarded(const std::string& text, std::string_view characters) {
    std::string result;
    for (const char c : text) {
        if (characters.find(c) != std::string_view::npos) {
            result += '\\';
        }
        result += c;
    }
    return result;
}

/// What offers the values, as `_arguments` takes it after the last colon.
std::string action(const Completions& values) {
    if (!values.words.empty()) {
        std::string words;
        for (const std::string& word : values.words) {
            words += (words.empty() ? "" : " ") + word;
        }
        return '(' + words + ')';
    }
    std::string call;
    for (const std::string& kind : values.shipped) {
        call += ' ' + kind;
    }
    for (const std::string& ending : values.endings) {
        call += " '*." + ending + '\'';
    }
    if (values.files) {
        call += " '*'";
    } else if (values.folders) {
        call += " /";
    }
    return call.empty() ? " " : "_echoloom_values" + call;
}

/// The words of one option or argument for `_arguments`, a line each.
std::string specification(const OptionHelp& option) {
    const std::string text = guarded(one_line(option.text), "[]:\\");
    const std::string type = guarded(option.type, ":\\");
    const std::string value =
        option.type.empty() ? "" : ':' + (type.empty() ? "value" : type) + ':' + action(completions(option));
    if (option.names.empty()) {
        return "        " +
               quoted((option.repeated ? "*" : "") + std::string(":") + guarded(option.place, ":\\") + ':' +
                      action(completions(option))) +
               " \\\n";
    }
    std::string all;
    for (const std::string& name : option.names) {
        all += (all.empty() ? "" : " ") + name;
    }
    std::string lines;
    for (const std::string& name : option.names) {
        const std::string joint = option.type.empty() ? "" : name.starts_with("--") ? "=" : "+";
        std::string word = option.repeated ? "*" : '(' + all + ')';
        word.append(name).append(joint).append("[").append(text).append("]").append(value);
        lines += "        " + quoted(word) + " \\\n";
    }
    return lines;
}

std::string arguments(const CommandHelp& command) {
    std::string lines = "_arguments -s -S \\\n";
    for (const OptionHelp& option : command.options) {
        lines += specification(option);
    }
    return lines;
}

constexpr const char* beginning = R"sh(#compdef echoloom
# Completion of echoloom for zsh; made from the program's own options.

_echoloom_values() { # kinds of shipped names, patterns of files, / for folders
    local kind
    local -a names
    for kind in "$@"; do
        case $kind in
            /) _files -/ ;;
            *\**) _files -g "$kind" ;;
            *)
                names=(${(f)"$()sh";

constexpr const char* middle = R"sh()"})
                compadd -a names ;;
        esac
    done
}

_echoloom() {
    local program=${words[1]/#\~/$HOME} state line
    local -a commands
    commands=(
)sh";

}  // namespace

std::string zsh_completion(const ProgramHelp& help) {
    std::string text = beginning + names_command("$program", "$kind") + middle;
    for (const CommandHelp& command : help.commands) {
        text += "        " + quoted(command.name + ':' + guarded(in_short(command.text), ":\\")) + '\n';
    }
    text += "    )\n    " + arguments(help.program) +
            "        ': :->command' '*:: :->arguments' && return\n"
            "    if [[ $state == command ]]; then\n        _describe command commands\n        return\n    fi\n"
            "    case $words[1] in\n";
    for (const CommandHelp& command : help.commands) {
        std::string lines = arguments(command);
        lines.erase(lines.rfind(" \\\n"));
        text += "    " + command.name + ")\n    " + lines + " ;;\n";
    }
    return text + "    esac\n}\n\n_echoloom \"$@\"\n";
}

}  // namespace echoloom
