#include "tools/cli/command_line.h"

#include <fftw3.h>
#include <hdf5.h>

#include <CLI/CLI.hpp>
#include <array>
#include <cmath>
#include <memory>
#include <sstream>
#include <utility>

#include "sim/base/text.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

std::string version() {
    std::array<unsigned, 3> hdf5{};
    H5get_libversion(&hdf5[0], &hdf5[1], &hdf5[2]);
    return std::string("echoloom ") + ECHOLOOM_VERSION + " (HDF5 " + std::to_string(hdf5[0]) + '.' +
           std::to_string(hdf5[1]) + '.' + std::to_string(hdf5[2]) + ", " + fftwf_version + ')';
}

/// Texts as they stand on the command line, before they are checked.
struct Raw {
    std::vector<std::string> simulate_settings, reconstruct_settings;
    std::string recording, shown, output, sheet, csv, plot;
    std::vector<std::string> images;
};

constexpr const char* simulate_help =
    R"(Computes the echoes every element would hear from a known phantom.

Examples:
  echoloom simulate teaching_block --probe flat_5MHz --scan lines_focus_40mm -o block.h5
  echoloom simulate my_phantom.toml --probe flat_5MHz --scan plane_waves_31 --dry-run
  echoloom simulate wire_ladder --probe flat_5MHz --scan lines_focus_40mm \
      --set scan.focus_depth_mm=60 --set probe.bandwidth_percent=40 -o ladder_60mm.h5
)";

constexpr const char* reconstruct_help =
    R"(Forms images from a recording, one for each recipe.
An image is NAME.h5 (the envelope) and NAME.png (the picture), NAME being the recipe's. Two to six recipes also
give a sheet that shows them side by side and, where the recording knows its true points, plots of lateral
profiles and of width against depth.

Examples:
  echoloom reconstruct block.h5 --recipe dynamic_focus
  echoloom reconstruct block.h5 --recipe fixed_focus --recipe dynamic_focus -o pictures
  echoloom reconstruct block.h5 --recipe my_recipe.toml --set receive.f_number=3 -o wide.h5
)";

constexpr const char* measure_help = R"(Measures the width of every true point in images, beside what theory predicts.

Examples:
  echoloom measure dynamic_focus.h5
  echoloom measure fixed_focus.h5 dynamic_focus.h5 --plot curves
  echoloom measure dynamic_focus.h5 --json > widths.json
)";

constexpr const char* show_help = R"(Says in words what is inside a recording or an image, or lists what is shipped.

Examples:
  echoloom show block.h5
  echoloom show block.h5 --verify
  echoloom show shipped
)";

/// The list of subcommands shows the first line of each; its own help says the rest.
class ShortList : public CLI::Formatter {
  public:
    std::string make_subcommand(const CLI::App* command) const override {
        const std::string all = command->get_description();
        std::ostringstream line;
        CLI::detail::format_help(line, command->get_name(), all.substr(0, all.find('\n')), get_column_width());
        return line.str();
    }
};

/// The caution on two lines.
std::string footer() {
    std::string words(caution_words());
    if (const std::size_t middle = words.rfind("; "); middle != std::string::npos) {
        words[middle + 1] = '\n';
    }
    return "echoloom COMMAND --help says more of each. Exit codes: 0 done, 2 something written cannot be used,\n"
           "3 the machine refused (disk, memory, permission), 130 interrupted.\n\n" +
           words;
}

/// One value an occurrence, so that an option never swallows the file names after it.
CLI::Option* repeated(CLI::Option* option) {
    return option->allow_extra_args(false)->take_all();
}

void add_simulate(CLI::App& app, SimulateOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("simulate", simulate_help);
    command->add_option("PHANTOM", options.phantom, "what is imaged: a file or a shipped name")
        ->type_name("FILE|NAME")
        ->required();
    command->add_option("--probe", options.probe, "the array: a file or a shipped name")
        ->type_name("FILE|NAME")
        ->required();
    command->add_option("--scan", options.scan, "the transmit events: a file or a shipped name")
        ->type_name("FILE|NAME")
        ->required();
    command->add_option("-o,--output", raw.output, "the recording to write; default recording.h5")->type_name("FILE");
    repeated(command->add_option("--set", raw.simulate_settings,
                                 "changes a setting: phantom.KEY=VALUE, probe.KEY=VALUE or scan.KEY=VALUE; may be "
                                 "repeated"));
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_option("--memory-GiB", options.memory_GiB, "most memory to use, in GiB; default 2");
    command->add_option("--cells-per-block", options.cells_per_block, "")->group("");
    command->add_flag("-n,--dry-run", options.dry_run, "says what the run would need and does not start it");
    command->add_flag("-f,--force", options.force, "replaces a recording that is already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_reconstruct(CLI::App& app, ReconstructOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("reconstruct", reconstruct_help);
    command->add_option("RECORDING", raw.recording, "the recording")->type_name("FILE")->required();
    repeated(command->add_option("--recipe", options.recipes,
                                 "how the image is formed: a file or a shipped name; may be repeated"))
        ->required();
    command->add_option("-o,--output", raw.output,
                        "folder for the images, or NAME.h5 for a single one; default the recording's folder");
    repeated(command->add_option("--set", raw.reconstruct_settings,
                                 "changes a setting of every recipe: KEY=VALUE; may be repeated"));
    command->add_option("--sheet", raw.sheet, "the sheet's file; default sheet.png beside the images")
        ->type_name("FILE");
    command->add_flag("--mark-truth", options.mark_truth, "outlines the true points and regions in the pictures");
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_flag("-f,--force", options.force, "replaces files that are already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_measure(CLI::App& app, MeasureOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("measure", measure_help);
    command->add_option("IMAGE", raw.images, "images (NAME.h5)")->type_name("FILE")->required();
    command->add_flag("--json", options.json, "prints JSON in place of the table");
    command->add_option("--csv", raw.csv, "also writes a CSV file")->type_name("FILE");
    command->add_option("--plot", raw.plot, "also draws profiles and width against depth in this folder")
        ->type_name("FOLDER");
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_flag("-f,--force", options.force, "replaces files that are already there");
}

void add_show(CLI::App& app, ShowOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("show", show_help);
    command->add_option("FILE", raw.shown, "a recording or an image; or the word shipped")->required();
    command->add_flag("--verify", options.verify, "recomputes a recording's digest");
    command->add_flag("--json", options.json, "prints JSON");
}

/// Long options and subcommands a misspelt word may have meant.
std::vector<std::string> known_words(const CLI::App& app) {
    std::vector<std::string> words;
    for (const CLI::App* command : app.get_subcommands({})) {
        words.push_back(command->get_name());
    }
    for (const CLI::Option* option : app.get_options()) {
        for (const std::string& name : option->get_lnames()) {
            if (!option->get_group().empty()) {
                words.push_back("--" + name);
            }
        }
    }
    return words;
}

const CLI::App& chosen(const CLI::App& app) {
    const auto commands = app.get_subcommands();
    return commands.empty() ? app : *commands.front();
}

[[noreturn]] void refuse(const CLI::App& app, const CLI::ParseError& error) {
    const CLI::App& command = chosen(app);
    const std::string name = &command == &app ? "echoloom" : "echoloom " + command.get_name();
    std::string what = error.what();
    std::vector<std::string> unknown = command.remaining();
    if (unknown.empty()) {
        unknown = app.remaining();
    }
    if (!unknown.empty()) {
        const std::string word = unknown.front().substr(0, unknown.front().find('='));
        what = '\'' + word + "' is not known here";
        if (const auto meant = nearest_word(word, known_words(command))) {
            what += "; did you mean '" + *meant + "'?";
        }
    }
    throw InputError({name}, what + "; see " + name + " --help");
}

Override key_and_value(const std::string& text) {
    const std::size_t equals = text.find('=');
    if (equals == std::string::npos || equals == 0) {
        throw InputError({"--set", 0, text}, "not a setting; write KEY=VALUE");
    }
    return {text.substr(0, equals), text.substr(equals + 1)};
}

/// Sorts phantom.KEY, probe.KEY and scan.KEY.
void share_out(const std::vector<std::string>& texts, SimulateOptions& options) {
    const std::array<std::pair<std::string, std::vector<Override>*>, 3> owners{{{"phantom.", &options.phantom_settings},
                                                                                {"probe.", &options.probe_settings},
                                                                                {"scan.", &options.scan_settings}}};
    for (const std::string& text : texts) {
        const Override change = key_and_value(text);
        bool taken = false;
        for (const auto& [prefix, settings] : owners) {
            if (change.key.starts_with(prefix)) {
                settings->push_back({change.key.substr(prefix.size()), change.value, prefix});
                taken = true;
            }
        }
        if (!taken) {
            throw InputError({"--set", 0, change.key},
                             "belongs to none of the three files; begin the key with phantom., probe. or scan.");
        }
    }
}

std::optional<std::filesystem::path> path_if(const CLI::App& command, const std::string& name,
                                             const std::string& text) {
    if (command.count(name) == 0) {
        return std::nullopt;
    }
    if (text.empty()) {
        throw InputError({name}, "is empty; give a file or folder");
    }
    return text;
}

void check_threads(const CLI::App& command, int threads) {
    if (command.count("--threads") > 0 && (threads < 1 || threads > 1024)) {
        throw InputError({"--threads"}, "is " + std::to_string(threads) + "; give a whole number from 1 to 1024");
    }
}

}  // namespace

std::optional<Command> read_command_line(int argc, const char* const* argv) {
    SimulateOptions simulate;
    ReconstructOptions reconstruct;
    MeasureOptions measure;
    ShowOptions show;
    Raw raw;

    CLI::App app(
        "A bench for array imaging: computes the echoes each element would hear from a known phantom, keeps them, and\n"
        "forms images from the same echoes in different ways.\n\n"
        "Examples:\n"
        "  echoloom simulate teaching_block --probe flat_5MHz --scan lines_focus_40mm -o block.h5\n"
        "  echoloom reconstruct block.h5 --recipe fixed_focus --recipe dynamic_focus\n"
        "  echoloom measure fixed_focus.h5 dynamic_focus.h5\n"
        "  echoloom show shipped\n",
        "echoloom");
    const auto formatter = std::make_shared<ShortList>();
    formatter->column_width(28);
    formatter->label("SUBCOMMAND", "COMMAND");
    formatter->label("Subcommands", "Commands");
    app.formatter(formatter);
    app.set_help_flag("-h,--help", "prints this and stops");
    app.set_version_flag("--version", version, "prints the version and those of its libraries");
    app.require_subcommand(1);
    add_simulate(app, simulate, raw);
    add_reconstruct(app, reconstruct, raw);
    add_measure(app, measure, raw);
    add_show(app, show, raw);
    app.footer(footer());

    try {
        app.parse(argc, argv);
    } catch (const CLI::CallForHelp&) {
        print(app.help());
        return std::nullopt;
    } catch (const CLI::CallForVersion& call) {
        print(std::string(call.what()) + '\n');
        return std::nullopt;
    } catch (const CLI::ParseError& error) {
        refuse(app, error);
    }

    const CLI::App& command = chosen(app);
    if (command.get_name() == "simulate") {
        share_out(raw.simulate_settings, simulate);
        simulate.output = path_if(command, "--output", raw.output).value_or(simulate.output);
        check_threads(command, simulate.threads);
        if (!(simulate.memory_GiB > 0.0) || std::isinf(simulate.memory_GiB)) {
            throw InputError({"--memory-GiB"}, "is " + plain(simulate.memory_GiB) + "; give a number more than 0");
        }
        return simulate;
    }
    if (command.get_name() == "reconstruct") {
        for (const std::string& text : raw.reconstruct_settings) {
            reconstruct.settings.push_back(key_and_value(text));
        }
        reconstruct.recording = raw.recording;
        reconstruct.output = path_if(command, "--output", raw.output);
        reconstruct.sheet = path_if(command, "--sheet", raw.sheet);
        check_threads(command, reconstruct.threads);
        return reconstruct;
    }
    if (command.get_name() == "measure") {
        measure.images.assign(raw.images.begin(), raw.images.end());
        measure.csv = path_if(command, "--csv", raw.csv);
        measure.plot = path_if(command, "--plot", raw.plot);
        check_threads(command, measure.threads);
        return measure;
    }
    show.file = raw.shown;
    return show;
}

}  // namespace echoloom
