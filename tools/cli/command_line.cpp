#include "tools/cli/command_line.h"

#include <fftw3.h>
#include <hdf5.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <sstream>
#include <utility>

#include "sim/base/text.h"
#include "tools/cli/command_help.h"
#include "tools/cli/option_checks.h"
#include "tools/cli/output.h"
#include "tools/cli/plane_places.h"
#include "tools/cli/setting_words.h"

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
    std::vector<std::string> simulate_settings, reconstruct_settings, show_settings, beam_settings, import_settings;
    std::string bench, recording, shown, shown_probe, output, sheet, csv, plot;
    std::vector<std::string> images;
    std::vector<std::string> at, discs, speckle;
    std::string box;
    double range_dB = 0.0;
    std::string map, beam_phantom;
    std::string before, after, tolerances, picture, junit;
    long long event = 0;
    double MHz = 0.0, depth_mm = 0.0, width_mm = 0.0, at_mm = 0.0, pattern_at_mm = 0.0;
    std::string pattern;
    std::vector<std::string> front_settings;
    std::string front_probe, front_scan, front_recording, front_panels, animation, delays, echoes;
    std::vector<double> point_mm;
};

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
           "3 the machine refused (disk, memory, permission), 130 interrupted; compare also has 1, different.\n\n" +
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
    command->add_option("--route", options.route, "")->group("")->check(CLI::IsMember({"matrix", "direct"}));
    command->add_flag("-v,--verbose", options.verbose, "says which way the echoes are computed, and why");
    command->add_flag("-n,--dry-run", options.dry_run, "says what the run would need and does not start it");
    command->add_flag("-f,--force", options.force, "replaces a recording that is already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_reconstruct(CLI::App& app, ReconstructOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("reconstruct", reconstruct_help);
    command->add_option("RECORDING", raw.recording, "the recording")->type_name("FILE")->required();
    repeated(command->add_option("--recipe", options.recipes,
                                 "how the image is formed: a file or a shipped name; may be repeated"))
        ->type_name("FILE|NAME")
        ->required();
    command
        ->add_option("-o,--output", raw.output,
                     "folder for the images, or NAME.h5 for a single one; default the recording's folder")
        ->type_name("FOLDER|FILE");
    repeated(command->add_option("--set", raw.reconstruct_settings,
                                 "changes a setting of every recipe: KEY=VALUE; may be repeated"));
    command->add_option("--panels", raw.sheet, "the sheet's file; default panels.png beside the images")
        ->type_name("FILE");
    command->add_flag("--mark-truth", options.mark_truth, "outlines the true points and regions in the pictures");
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_flag("-f,--force", options.force, "replaces files that are already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_measure(CLI::App& app, MeasureOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("measure", measure_help);
    command->add_option("IMAGE", raw.images, "images (NAME.h5)")->type_name("FILE")->required();
    command->add_flag("--correlation", options.correlation,
                      "in place of widths: how alike successive pulses hear a target (images with keep_rf)");
    command->add_flag("--json", options.json, "prints JSON in place of the table");
    repeated(command->add_option("--at", raw.at, "a point to measure, in mm; may be repeated"))->type_name("X,DEPTH");
    command->add_option("--box", raw.box, "finds bright points in this box, in mm")->type_name("X1,X2,DEPTH1,DEPTH2");
    repeated(
        command->add_option("--disc", raw.discs, "a disc to hold against its surroundings, in mm; may be repeated"))
        ->type_name("X,DEPTH,DIAMETER");
    repeated(command->add_option("--speckle", raw.speckle, "a box of even speckle, in mm; may be repeated"))
        ->type_name("X1,X2,DEPTH1,DEPTH2");
    command->add_option("--csv", raw.csv, "also writes the widths as CSV, and the rest to NAME_quantities.csv")
        ->type_name("FILE");
    command->add_option("--plot", raw.plot, "also draws curves in this folder, with their data and scripts")
        ->type_name("FOLDER");
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_flag("-f,--force", options.force, "replaces files that are already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_panels(CLI::App& app, PanelsCommand& sheet, Raw& raw) {
    CLI::App* command = app.add_subcommand("sheet", panels_help);
    command->add_option("IMAGE", raw.images, "images (NAME.h5), two to six")->type_name("FILE")->required();
    command->add_option("-o,--output", raw.output, "the picture to write; default panels.png")->type_name("FILE");
    command->add_option("--heading", sheet.heading, "words over all panels");
    command->add_option("--titles", sheet.titles, "the panels' titles, one for each image; after the images")
        ->type_name("TEXT ...")
        ->expected(1, CLI::detail::expected_max_vector_size);
    command->add_flag("--common-peak", sheet.common_peak, "white is the largest peak of all, not each image's own");
    command->add_option("--range-dB", raw.range_dB, "from white to black, in dB; default wide enough for every recipe");
    command->add_flag("--mark-truth", sheet.mark_truth, "outlines the true points and regions");
    command->add_flag("-f,--force", sheet.force, "replaces a picture that is already there");
}

void add_beam(CLI::App& app, BeamOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("field", beam_help);
    repeated(command->add_option("--probe", options.probes, "an array: a file or a shipped name; may be repeated"))
        ->type_name("FILE|NAME")
        ->required();
    repeated(command->add_option("--scan", options.scans,
                                 "its transmit events: a file or a shipped name; one for "
                                 "all probes, or one for each"))
        ->type_name("FILE|NAME")
        ->required();
    command->add_option("--event", raw.event, "which event, counted from 0; default the middle one");
    repeated(command->add_option("--way", options.ways,
                                 "transmit (default): what is sent; receive: what is heard; two-way: both; may be "
                                 "repeated"))
        ->type_name("WAY")
        ->check(CLI::IsMember({"transmit", "receive", "two-way"}));
    repeated(command->add_option("--recipe", options.recipes,
                                 "how to listen, a file or a shipped name; may be repeated;\n"
                                 "default all that listen, alike, focused as it was sent"))
        ->type_name("FILE|NAME");
    command->add_flag("--pulsed", options.pulsed, "peaks of the probe's pulse in place of a continuous wave");
    command->add_option("--MHz", raw.MHz, "of the continuous wave; default each probe's centre frequency");
    command->add_flag("--unfocused", options.unfocused, "all elements fire at once (a lens stays)");
    command->add_option("--phantom", raw.beam_phantom, "whose medium it is; default lossless, 1540 m/s")
        ->type_name("FILE|NAME");
    repeated(command->add_option("--set", raw.beam_settings,
                                 "changes a setting: phantom.KEY=VALUE, probe.KEY=VALUE or scan.KEY=VALUE; may be "
                                 "repeated"));
    command->add_option("--depth-mm", raw.depth_mm, "how deep; default the scan's depth, or past the near zone");
    command->add_option("--width-mm", raw.width_mm, "width of the map; default what the beams need");
    command
        ->add_option("--plane", options.plane,
                     "scan (default): the image's; elevation: across it, through the beam; depth: at one depth")
        ->type_name("PLANE")
        ->check(CLI::IsMember({"scan", "elevation", "depth"}));
    command->add_option("--at-mm", raw.at_mm, "depth of the plane \"depth\"; default the focus");
    command->add_option("--map", raw.map, "also draws the beams in dB")->type_name("FILE.png");
    command->add_option("--plot", raw.plot, "also draws pressure on the axis and beam width against depth")
        ->type_name("FILE.png");
    command->add_option("--pattern", raw.pattern, "also draws level against angle")->type_name("FILE.png");
    command->add_option("--pattern-at-mm", raw.pattern_at_mm,
                        "distance at which that is; default the focus, or far away where there is none");
    command->add_option("--csv", raw.csv, "also writes a CSV file")->type_name("FILE");
    command->add_flag("--json", options.json, "prints JSON in place of the table");
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_flag("-f,--force", options.force, "replaces files that are already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_wavefronts(CLI::App& app, WavefrontOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("wavefronts", wavefronts_help);
    command->add_option("--probe", raw.front_probe, "the array: a file or a shipped name")->type_name("FILE|NAME");
    command->add_option("--scan", raw.front_scan, "whose event it is; default aimed by --focus-mm and --steer-deg")
        ->type_name("FILE|NAME");
    command->add_option(
        "--event", raw.event,
        "which event, counted from 0; default the middle one, of a recording the nearest\nto the point");
    repeated(command->add_option("--set", raw.front_settings,
                                 "changes a setting: probe.KEY=VALUE or scan.KEY=VALUE; may be repeated"));
    repeated(command->add_option("--focus-mm", options.foci_mm,
                                 "focus; may be repeated for --delays; default 40, for --delays 20 and 80"));
    repeated(command->add_option("--steer-deg", options.steers_deg,
                                 "steering; may be repeated for --delays; default 0, for --delays 0 and 20"));
    command->add_option("--elements", options.elements, "how many fire; default all of a row, or 64 of a longer one");
    command->add_option("--panels", raw.front_panels, "draws the front at several instants")->type_name("FILE.png");
    repeated(command->add_option("--at-us", options.instants_us,
                                 "an instant of the sheet, from when the front passes the middle of the face; may\n"
                                 "be repeated, up to six times; default six up to beyond the focus"));
    command->add_option("--animation", raw.animation, "draws the front as it goes")->type_name("FILE.gif");
    command->add_option("--frames", options.frames, "of the animation; default 60");
    command->add_option("--depth-mm", raw.depth_mm, "how deep the pictures reach; default a third beyond the focus");
    command->add_option("--width-mm", raw.width_mm, "width of the pictures; default what array and front need");
    command->add_option("--delays", raw.delays, "draws the delays above the array")->type_name("FILE.png");
    command->add_option("--echoes", raw.echoes, "draws the echoes of a point before and after the delays of receive")
        ->type_name("FILE.png");
    command
        ->add_option("--point-mm", raw.point_mm, "where that point is; default the focus, or a recording's true point")
        ->type_name("LATERAL DEPTH")
        ->expected(2);
    command->add_option("--recording", raw.front_recording, "whose echoes they are; default computed for the event")
        ->type_name("FILE");
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_flag("-f,--force", options.force, "replaces files that are already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_import(CLI::App& app, ImportOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("import", import_help);
    CLI::Option* bench =
        command->add_option("BENCH", raw.bench, "what the samples are (BENCH.toml)")->type_name("FILE");
    command->add_flag("--example", options.example, "prints such a file with every key explained, and stops")
        ->excludes(bench);
    command->add_option("-o,--output", raw.output, "the recording to write; default recording.h5")->type_name("FILE");
    repeated(command->add_option("--set", raw.import_settings, "changes a setting: KEY=VALUE; may be repeated"));
    command->add_flag("-n,--dry-run", options.dry_run, "reports and writes nothing");
    command->add_flag("--json", options.json, "prints the report as JSON");
    command->add_flag("-f,--force", options.force, "replaces a recording that is already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_compare(CLI::App& app, CompareOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("compare", compare_help);
    command->add_option("BEFORE", raw.before, "an image, a recording, or a folder of them")->required();
    command->add_option("AFTER", raw.after, "the same made anew")->required();
    command
        ->add_option("--tolerances", raw.tolerances,
                     "what may differ; default recon/compare/tolerances.toml, which explains itself")
        ->type_name("FILE.toml");
    command
        ->add_option("--picture", raw.picture,
                     "also draws before, after and their signed difference; of folders, "
                     "a folder for a picture of every pair that differs")
        ->type_name("FILE.png");
    command->add_option("--junit", raw.junit, "also writes the result as XML for build servers")->type_name("FILE.xml");
    command->add_flag("--all", options.every, "shows every number, not only those nearest to their limits");
    command->add_flag("--json", options.json, "prints JSON in place of the table");
    command->add_option("--threads", options.threads, "threads to use; default one for each processor");
    command->add_flag("-f,--force", options.force, "replaces files that are already there");
    command->add_flag("-q,--quiet", options.quiet, "no progress");
}

void add_show(CLI::App& app, ShowOptions& options, Raw& raw) {
    CLI::App* command = app.add_subcommand("show", show_help);
    command
        ->add_option("FILE", raw.shown,
                     "a recording or an image; a probe or a scan; a shipped name; or the word shipped")
        ->required();
    command->add_option("--probe", raw.shown_probe, "the array a scan is for: a file or a shipped name")
        ->type_name("FILE|NAME");
    repeated(command->add_option("--set", raw.show_settings,
                                 "changes a setting: probe.KEY=VALUE or scan.KEY=VALUE; may be repeated"));
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

/// A picture's file, whose name says what is written into it.
std::optional<std::filesystem::path> picture_if(const CLI::App& command, const std::string& name,
                                                const std::string& text) {
    const std::optional<std::filesystem::path> file = path_if(command, name, text);
    const bool moves = name == "--animation";
    if (file && file->extension() != (moves ? ".gif" : ".png")) {
        throw InputError(
            {name}, "is " + text + "; give the name of " + (moves ? "an animation, NAME.gif" : "a picture, NAME.png"));
    }
    return file;
}

void check_threads(const CLI::App& command, int threads) {
    if (command.count("--threads") > 0 && (threads < 1 || threads > 1024)) {
        throw InputError({"--threads"}, "is " + std::to_string(threads) + "; give a whole number from 1 to 1024");
    }
}

/// A number that must be more than 0 and at most `most`; nothing where it was not given.
std::optional<double> positive_if(const CLI::App& command, const std::string& name, double value, double most) {
    if (command.count(name) == 0) {
        return std::nullopt;
    }
    if (!(value > 0.0) || value > most) {
        throw InputError({name}, "is " + plain(value) + "; give a number more than 0, at most " + plain(most));
    }
    return value;
}

BeamOptions read_beam(const CLI::App& command, const Raw& raw, BeamOptions field) {
    const Owner owners[] = {
        {"phantom.", &field.phantom_settings}, {"probe.", &field.probe_settings}, {"scan.", &field.scan_settings}};
    share_out(raw.beam_settings, owners);
    if (const auto phantom = path_if(command, "--phantom", raw.beam_phantom)) {
        field.phantom = phantom->string();
    } else if (!field.phantom_settings.empty()) {
        throw InputError({"--set", 0, "phantom." + field.phantom_settings.front().key},
                         "there is no phantom here; give one with --phantom");
    }
    if (command.count("--event") > 0) {
        field.event = raw.event;
    }
    field.MHz = positive_if(command, "--MHz", raw.MHz, 100.0);
    field.depth_mm = positive_if(command, "--depth-mm", raw.depth_mm, 5000.0);
    field.width_mm = positive_if(command, "--width-mm", raw.width_mm, 5000.0);
    field.at_mm = positive_if(command, "--at-mm", raw.at_mm, 5000.0);
    field.pattern_at_mm = positive_if(command, "--pattern-at-mm", raw.pattern_at_mm, 50000.0);
    check_beam(field);
    field.map = picture_if(command, "--map", raw.map);
    field.pattern = picture_if(command, "--pattern", raw.pattern);
    if (field.pattern_at_mm && !field.pattern) {
        throw InputError({"--pattern-at-mm"}, "is where the pattern is looked at; add --pattern FILE.png");
    }
    field.plot = picture_if(command, "--plot", raw.plot);
    field.csv = path_if(command, "--csv", raw.csv);
    check_threads(command, field.threads);
    return field;
}

ImportOptions read_import(const CLI::App& command, const Raw& raw, ImportOptions options) {
    if (!options.example && raw.bench.empty()) {
        throw InputError({"echoloom import"},
                         "BENCH is required: a TOML file that says what the samples are; begin with "
                         "echoloom import --example > acquisition.toml");
    }
    for (const std::string& text : raw.import_settings) {
        options.settings.push_back(key_and_value(text));
    }
    options.bench = raw.bench;
    options.output = path_if(command, "--output", raw.output).value_or(options.output);
    return options;
}

WavefrontOptions read_wavefronts(const CLI::App& command, const Raw& raw, WavefrontOptions front) {
    const Owner owners[] = {{"probe.", &front.probe_settings}, {"scan.", &front.scan_settings}};
    share_out(raw.front_settings, owners);
    const auto text_if = [&](const std::string& name, const std::string& text) -> std::optional<std::string> {
        const auto path = path_if(command, name, text);
        return path ? std::optional(path->string()) : std::nullopt;
    };
    front.probe = text_if("--probe", raw.front_probe);
    front.scan = text_if("--scan", raw.front_scan);
    front.recording = path_if(command, "--recording", raw.front_recording);
    front.sheet = picture_if(command, "--panels", raw.front_panels);
    front.animation = picture_if(command, "--animation", raw.animation);
    front.delays = picture_if(command, "--delays", raw.delays);
    front.echoes = picture_if(command, "--echoes", raw.echoes);
    front.depth_mm = positive_if(command, "--depth-mm", raw.depth_mm, 1000.0);
    front.width_mm = positive_if(command, "--width-mm", raw.width_mm, 1000.0);
    if (command.count("--event") > 0) {
        front.event = raw.event;
    }
    if (raw.point_mm.size() == 2) {
        front.point_mm = {raw.point_mm[0], raw.point_mm[1]};
    }
    check_threads(command, front.threads);
    check_wavefronts(front, command.count("--elements") > 0);
    return front;
}

CompareOptions read_compare(const CLI::App& command, const Raw& raw, CompareOptions compare) {
    compare.before = raw.before;
    compare.after = raw.after;
    compare.tolerances = path_if(command, "--tolerances", raw.tolerances);
    compare.picture = path_if(command, "--picture", raw.picture);
    compare.junit = path_if(command, "--junit", raw.junit);
    check_threads(command, compare.threads);
    return compare;
}

}  // namespace

std::optional<Command> read_command_line(int argc, const char* const* argv) {
    SimulateOptions simulate;
    ReconstructOptions reconstruct;
    MeasureOptions measure;
    PanelsCommand sheet;
    BeamOptions field;
    WavefrontOptions front;
    ImportOptions imported;
    CompareOptions compare;
    ShowOptions show;
    Raw raw;

    CLI::App app(
        "A bench for array imaging: computes the echoes each element would hear from a known phantom, keeps them, and\n"
        "forms images from the same echoes in different ways.\n\n"
        "Examples:\n"
        "  echoloom simulate teaching_block --probe linear_5MHz --scan lines_focus_40mm -o block.h5\n"
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
    add_panels(app, sheet, raw);
    add_beam(app, field, raw);
    add_wavefronts(app, front, raw);
    add_import(app, imported, raw);
    add_compare(app, compare, raw);
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
        const Owner owners[] = {{"phantom.", &simulate.phantom_settings},
                                {"probe.", &simulate.probe_settings},
                                {"scan.", &simulate.scan_settings}};
        share_out(raw.simulate_settings, owners);
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
        reconstruct.sheet = picture_if(command, "--panels", raw.sheet);
        check_threads(command, reconstruct.threads);
        return reconstruct;
    }
    if (command.get_name() == "measure") {
        measure.images.assign(raw.images.begin(), raw.images.end());
        measure.aim = read_aim(raw.at, raw.box, raw.discs, raw.speckle);
        if (measure.correlation && (command.count("--at") + command.count("--box") + command.count("--disc") +
                                    command.count("--speckle")) > 0) {
            throw InputError({"--correlation"},
                             "goes with a recording's own points; leave out --at, --box, --disc and "
                             "--speckle");
        }
        measure.csv = path_if(command, "--csv", raw.csv);
        measure.plot = path_if(command, "--plot", raw.plot);
        check_threads(command, measure.threads);
        return measure;
    }
    if (command.get_name() == "sheet") {
        sheet.images.assign(raw.images.begin(), raw.images.end());
        sheet.output = picture_if(command, "--output", raw.output).value_or(sheet.output);
        if (command.count("--range-dB") > 0) {
            if (!(raw.range_dB > 0.0) || raw.range_dB > 400.0) {
                throw InputError({"--range-dB"}, "is " + plain(raw.range_dB) + "; give more than 0, at most 400");
            }
            sheet.range_dB = raw.range_dB;
        }
        return sheet;
    }
    if (command.get_name() == "field") {
        return read_beam(command, raw, field);
    }
    if (command.get_name() == "wavefronts") {
        return read_wavefronts(command, raw, front);
    }
    if (command.get_name() == "import") {
        return read_import(command, raw, imported);
    }
    if (command.get_name() == "compare") {
        return read_compare(command, raw, compare);
    }
    const Owner owners[] = {{"probe.", &show.probe_settings}, {"scan.", &show.scan_settings}};
    share_out(raw.show_settings, owners);
    if (const auto probe = path_if(command, "--probe", raw.shown_probe)) {
        show.probe = probe->string();
    }
    show.file = raw.shown;
    return show;
}

}  // namespace echoloom
