#pragma once
/// Completion for shells, from what `--help` says. Names of what is shipped are asked of the program itself.

#include <string>
#include <vector>

#include "tools/cli/command_tree.h"

namespace echoloom {

std::string bash_completion(const ProgramHelp& help);
std::string zsh_completion(const ProgramHelp& help);
std::string fish_completion(const ProgramHelp& help);

/// What a value may be completed to.
struct Completions {
    std::vector<std::string> words;    ///< the only ones it takes
    std::vector<std::string> shipped;  ///< "probes": names that `echoloom list probes` prints
    std::vector<std::string> endings;  ///< "png": files that end so
    bool files = false;                ///< any
    bool folders = false;              ///< where no file is meant
    bool none() const { return words.empty() && shipped.empty() && endings.empty() && !files && !folders; }
};

/// By choices and type: FILE, FILE.png, FOLDER and NAME, with | between. A NAME is of the kind that the option is
/// called by ("--probe"), else of any. An option that takes a name takes a settings file, too.
Completions completions(const OptionHelp& option);

/// A shell pipe that prints the names, one a line, where `program` and `kind` are that shell's words for these.
std::string names_command(const std::string& program, const std::string& kind);

/// In single quotes, as bash and zsh read it.
std::string quoted(const std::string& text);

/// All on one line.
std::string one_line(std::string text);

}  // namespace echoloom
