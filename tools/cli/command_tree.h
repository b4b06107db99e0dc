#pragma once
/// All that `--help` says, as plain structs: what manual pages and completion are made from.

#include <string>
#include <vector>

namespace CLI {
class App;
}

namespace echoloom {

struct OptionHelp {
    std::vector<std::string> names;  ///< "-o", "--output"; empty for what is given by its place
    std::string place;               ///< "PHANTOM"; empty for an option with names
    std::string type;                ///< "FILE|NAME"; empty where it takes no value
    std::string text;
    std::string group;
    std::vector<std::string> choices;  ///< the only values it takes; empty where any will do
    bool required = false;
    bool repeated = false;
};

struct CommandHelp {
    std::string name;
    std::string text;    ///< before the options
    std::string footer;  ///< after them
    std::vector<OptionHelp> options;
};

struct ProgramHelp {
    CommandHelp program;
    std::vector<CommandHelp> commands;
};

/// What is hidden from `--help` is left out.
ProgramHelp describe(const CLI::App& app);

/// The command `echoloom`.
ProgramHelp described_program();

}  // namespace echoloom
