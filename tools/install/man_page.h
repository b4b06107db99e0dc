#pragma once
/// Manual pages from what `--help` says.

#include <string>

#include "tools/cli/command_tree.h"

namespace echoloom {

/// echoloom.1.
std::string program_page(const ProgramHelp& help, const std::string& version);

/// echoloom-COMMAND.1.
std::string command_page(const ProgramHelp& help, const CommandHelp& command, const std::string& version);

}  // namespace echoloom
