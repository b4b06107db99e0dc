#include <algorithm>

#include "tools/install/completion.h"

namespace echoloom {

namespace {

std::string joined(const std::vector<std::string>& words, const std::string& between) {
    std::string result;
    for (const std::string& word : words) {
        result += (result.empty() ? "" : between) + word;
    }
    return result;
}

/// The calls that add to COMPREPLY; `:` where there is nothing to add.
std::string calls(const Completions& values) {
    std::vector<std::string> calls;
    if (!values.words.empty()) {
        calls.push_back("_echoloom_words " + quoted(joined(values.words, " ")));
    }
    for (const std::string& kind : values.shipped) {
        calls.push_back("_echoloom_names " + kind);
    }
    for (const std::string& ending : values.endings) {
        calls.push_back("_echoloom_files " + quoted("*." + ending));
    }
    if (values.files) {
        calls.push_back("_echoloom_files '*'");
    } else if (values.folders) {
        calls.push_back("_echoloom_folders");
    }
    return calls.empty() ? ":" : joined(calls, "; ");
}

/// Cases of "command option": what comes after it, for every option that takes a value.
std::string value_cases(const CommandHelp& command) {
    std::string cases;
    for (const OptionHelp& option : command.options) {
        if (!option.names.empty() && !option.type.empty()) {
            std::vector<std::string> patterns;
            for (const std::string& name : option.names) {
                patterns.push_back("'" + command.name + ' ' + name + "'");
            }
            cases += "        " + joined(patterns, " | ") + ") " + calls(completions(option)) + " ;;\n";
        }
    }
    return cases;
}

std::string option_names(const CommandHelp& command) {
    std::vector<std::string> names;
    for (const OptionHelp& option : command.options) {
        names.insert(names.end(), option.names.begin(), option.names.end());
    }
    return joined(names, " ");
}

/// Without an argument to complete, its options.
std::string word_case(const CommandHelp& command) {
    std::vector<std::string> arguments;
    for (const OptionHelp& option : command.options) {
        if (const Completions values = completions(option); option.names.empty() && !values.none()) {
            const std::string call = calls(values);
            if (std::find(arguments.begin(), arguments.end(), call) == arguments.end()) {
                arguments.push_back(call);
            }
        }
    }
    const std::string options = quoted(option_names(command));
    return "        " + command.name + ") options=" + options + "; " +
           (arguments.empty() ? "[[ $word == -* ]] || _echoloom_words \"$options\""
                              : "[[ $word == -* ]] || { " + joined(arguments, "; ") + "; }") +
           " ;;\n";
}

constexpr const char* beginning = R"sh(# Completion of echoloom for bash; made from the program's own options.

_echoloom_words() { # "WORD WORD ..."
    local line
    while IFS= read -r line; do COMPREPLY+=("$line"); done < <(compgen -W "$1" -- "$word")
}

_echoloom_names() { # phantoms, probes, scans or recipes
    _echoloom_words "$()sh";

constexpr const char* middle = R"sh()"
}

_echoloom_folders() {
    local line
    compopt -o filenames 2>/dev/null
    while IFS= read -r line; do COMPREPLY+=("$line"); done < <(compgen -d -- "$word")
}

_echoloom_files() { # PATTERN
    local line
    compopt -o filenames 2>/dev/null
    while IFS= read -r line; do
        [[ -d $line ]] || COMPREPLY+=("$line")
    done < <(compgen -f -X "!$1" -- "$word")
    _echoloom_folders
}

# What comes after an option that takes a value; false where it takes none.
_echoloom_value() { # COMMAND OPTION
    case "$1 $2" in
)sh";

constexpr const char* end = R"sh(        *) return 1 ;;
    esac
}

_echoloom() {
    local program=$1 word=${COMP_WORDS[COMP_CWORD]} command='' options='' last=$((COMP_CWORD - 1)) i
    COMPREPLY=()
    program=${program/#\~/$HOME}
    # bash takes --option=value for three words.
    if [[ $word == = ]]; then
        word=''
    elif [[ ${COMP_WORDS[last]} == = ]]; then
        last=$((last - 1))
    fi
    for ((i = 1; i < COMP_CWORD; ++i)); do
        if [[ ${COMP_WORDS[i]} != -* ]]; then
            command=${COMP_WORDS[i]}
            break
        fi
    done
    [[ ${COMP_WORDS[last]} == -* ]] && _echoloom_value "$command" "${COMP_WORDS[last]}" && return
    case $command in
)sh";

constexpr const char* close = R"sh(        *) return ;;
    esac
    [[ $word != -* ]] || _echoloom_words "$options"
}

complete -F _echoloom echoloom
)sh";

}  // namespace

std::string bash_completion(const ProgramHelp& help) {
    std::vector<std::string> names;
    std::string values;
    std::string words;
    for (const CommandHelp& command : help.commands) {
        names.push_back(command.name);
        values += value_cases(command);
        words += word_case(command);
    }
    const std::string top = "        '') options=" + quoted(option_names(help.program)) +
                            "; [[ $word == -* ]] || _echoloom_words " + quoted(joined(names, " ")) + " ;;\n";
    return beginning + names_command("\"$program\"", "$1") + middle + values + end + top + words + close;
}

}  // namespace echoloom
