// Writes the manual pages and the shells' completion of `echoloom` into a folder, from the same options and texts that
// `--help` prints.

#include <cstdio>
#include <exception>
#include <filesystem>

#include "sim/base/atomic_file.h"
#include "tools/cli/command_tree.h"
#include "tools/install/completion.h"
#include "tools/install/man_page.h"

int main(int argc, char** argv) {
    if (argc != 2) {
        std::fprintf(stderr, "error: give the folder to write to\n");
        return 2;
    }
    try {
        using namespace echoloom;
        const std::filesystem::path folder = argv[1];
        const ProgramHelp help = described_program();
        write_file(folder / "echoloom.1", program_page(help, ECHOLOOM_VERSION));
        for (const CommandHelp& command : help.commands) {
            write_file(folder / ("echoloom-" + command.name + ".1"), command_page(help, command, ECHOLOOM_VERSION));
        }
        write_file(folder / "echoloom", bash_completion(help));
        write_file(folder / "_echoloom", zsh_completion(help));
        write_file(folder / "echoloom.fish", fish_completion(help));
    } catch (const std::exception& error) {
        std::fprintf(stderr, "error: %s\n", error.what());
        return 3;
    }
    return 0;
}
