#include "tools/cli/command_tree.h"

#include <CLI/CLI.hpp>
#include <sstream>

#include "tools/cli/command_app.h"

namespace echoloom {

namespace {

/// The words of "{transmit,receive}", as a check for membership describes itself.
std::vector<std::string> words_in_braces(const std::string& text) {
    std::vector<std::string> words;
    const std::size_t open = text.find('{');
    const std::size_t close = text.find('}', open == std::string::npos ? 0 : open);
    if (open == std::string::npos || close == std::string::npos) {
        return words;
    }
    std::istringstream list(text.substr(open + 1, close - open - 1));
    for (std::string word; std::getline(list, word, ',');) {
        words.push_back(word);
    }
    return words;
}

OptionHelp describe(const CLI::Option& option, const CLI::App& command) {
    OptionHelp help;
    for (const std::string& name : option.get_snames()) {
        help.names.push_back('-' + name);
    }
    for (const std::string& name : option.get_lnames()) {
        help.names.push_back("--" + name);
    }
    if (help.names.empty()) {
        help.place = option.get_name(true);
    }
    if (option.get_type_size() != 0) {
        const std::string type = option.get_type_name();  // and what its checks say, after a colon
        const std::size_t end = type.find(':');
        help.type = command.get_formatter()->get_label(type.substr(0, end));
        if (help.type.empty() && help.place.empty()) {
            help.type = "VALUE";
        }
        help.choices = end == std::string::npos ? std::vector<std::string>{} : words_in_braces(type.substr(end));
    }
    help.text = option.get_description();
    help.group = option.get_group();
    help.required = option.get_required();
    help.repeated = option.get_items_expected_max() >= CLI::detail::expected_max_vector_size;
    return help;
}

void add_options(const CLI::App& command, CommandHelp& help) {
    for (const CLI::Option* option : command.get_options()) {
        if (!option->get_group().empty()) {
            help.options.push_back(describe(*option, command));
        }
    }
}

CommandHelp describe_command(const CLI::App& command) {
    CommandHelp help{command.get_name(), command.get_description(), command.get_footer(), {}};
    add_options(command, help);
    for (const CLI::App* part : command.get_subcommands({})) {
        if (part->get_name().empty()) {  // a group of options
            add_options(*part, help);
        }
    }
    return help;
}

}  // namespace

ProgramHelp describe(const CLI::App& app) {
    ProgramHelp help{describe_command(app), {}};
    for (const CLI::App* command : app.get_subcommands({})) {
        if (!command->get_name().empty() && !command->get_group().empty()) {
            help.commands.push_back(describe_command(*command));
        }
    }
    return help;
}

ProgramHelp described_program() {
    CommandLine line;
    return describe(*command_app(line));
}

}  // namespace echoloom
