#include "tools/cli/command_app.h"

#include <fftw3.h>
#include <hdf5.h>

#include <CLI/CLI.hpp>
#include <array>
#include <sstream>

#include "tools/cli/command_help.h"
#include "tools/cli/command_options.h"

namespace echoloom {

namespace {

std::string version() {
    std::array<unsigned, 3> hdf5{};
    H5get_libversion(&hdf5[0], &hdf5[1], &hdf5[2]);
    return std::string("echoloom ") + ECHOLOOM_VERSION + " (HDF5 " + std::to_string(hdf5[0]) + '.' +
           std::to_string(hdf5[1]) + '.' + std::to_string(hdf5[2]) + ", " + fftwf_version + ')';
}

/// The list of commands shows the first line of each; its own help has the rest.
class ShortList : public CLI::Formatter {
  public:
    std::string make_subcommand(const CLI::App* command) const override {
        const std::string all = command->get_description();
        std::ostringstream line;
        CLI::detail::format_help(line, command->get_name(), all.substr(0, all.find('\n')), get_column_width());
        return line.str();
    }
};

}  // namespace

std::unique_ptr<CLI::App> command_app(CommandLine& line) {
    auto app = std::make_unique<CLI::App>(program_help, "echoloom");
    const auto formatter = std::make_shared<ShortList>();
    formatter->column_width(28);
    formatter->label("SUBCOMMAND", "COMMAND");
    app->formatter(formatter);
    app->set_help_flag("-h,--help", "prints this and stops");
    app->set_version_flag("--version", version, "prints the version and those of its libraries");
    app->require_subcommand(0, 1);

    // Commands take over what is set before they are added.
    const std::string rules = std::string(output_rule) + exit_codes;
    app->footer(rules);
    Typed& typed = line.typed;
    add_simulate(*app, line.simulate, typed);
    add_reconstruct(*app, line.reconstruct, typed);
    add_measure(*app, line.measure, typed);
    add_panels(*app, line.panels, typed);
    add_beam(*app, line.beam, typed);
    add_wavefronts(*app, line.wavefronts, typed);
    add_import(*app, line.imported, typed);
    add_compare(*app, line.compare, typed);
    add_show(*app, line.show, typed);
    add_list(*app, line.list);
    for (CLI::App* command : app->get_subcommands({})) {
        command->group("Commands");
    }
    app->footer("echoloom COMMAND --help explains each command.\n" + rules + '\n' + general_caution);
    return app;
}

}  // namespace echoloom
