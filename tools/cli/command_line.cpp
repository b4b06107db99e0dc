#include "tools/cli/command_line.h"

#include <CLI/CLI.hpp>
#include <cmath>
#include <utility>

#include "sim/base/text.h"
#include "tools/cli/command_app.h"
#include "tools/cli/option_checks.h"
#include "tools/cli/output.h"
#include "tools/cli/plane_places.h"
#include "tools/cli/settings_by_file.h"

namespace echoloom {

namespace {

/// Long options and commands that a misspelt word may have meant.
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

bool is_number(const std::string& word) {
    return !word.empty() && word.find_first_not_of("+-.0123456789") == std::string::npos;
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
        if (command.count_all() > 0 && is_number(word)) {
            what += "; numbers that belong together stand between commas without spaces, as in 3,40";
        } else if (const auto meant = nearest_word(word, known_words(command))) {
            what += "; did you mean '" + *meant + "'?";
        }
    }
    throw InputError({name}, what + "; see " + name + " --help");
}

/// Looks up what was typed, of the command that was chosen.
class Given {
  public:
    explicit Given(const CLI::App& command) : command_(command) {}

    bool has(const std::string& option) const { return command_.count(option) > 0; }

    std::optional<std::string> text(const std::string& option, const std::string& typed) const {
        if (!has(option)) {
            return std::nullopt;
        }
        if (typed.empty()) {
            throw InputError({option}, "is empty; give a file, a folder or a name");
        }
        return typed;
    }

    std::optional<std::filesystem::path> path(const std::string& option, const std::string& typed) const {
        const auto given = text(option, typed);
        return given ? std::optional<std::filesystem::path>(*given) : std::nullopt;
    }

    /// A picture's file, whose name shows what is written into it.
    std::optional<std::filesystem::path> picture(const std::string& option, const std::string& typed) const {
        const std::optional<std::filesystem::path> file = path(option, typed);
        const bool moves = option == "--animation";
        if (file && file->extension() != (moves ? ".gif" : ".png")) {
            throw InputError({option}, "is " + typed + "; give the name of " +
                                           (moves ? "an animation, NAME.gif" : "a picture, NAME.png"));
        }
        return file;
    }

    /// A number that must be more than 0 and at most `max`; nothing where it was not given.
    std::optional<double> positive(const std::string& option, double value, double max) const {
        if (!has(option)) {
            return std::nullopt;
        }
        if (!(value > 0.0) || value > max) {
            throw InputError({option}, "is " + plain(value) + "; give a number more than 0, at most " + plain(max));
        }
        return value;
    }

    std::optional<long long> event(long long value) const {
        return has("--event") ? std::optional(value) : std::nullopt;
    }

    void check_threads(const CommonOptions& options) const {
        const CLI::Option* threads = command_.get_option_no_throw("--threads");
        if (threads != nullptr && threads->count() > 0 && (options.threads < 1 || options.threads > 1024)) {
            throw InputError({"--threads"},
                             "is " + std::to_string(options.threads) + "; give a whole number from 1 to 1024");
        }
    }

  private:
    const CLI::App& command_;
};

SimulateOptions read(const Given& given, const Typed& typed, SimulateOptions simulate) {
    const Owner owners[] = {{"phantom.", &simulate.phantom_settings},
                            {"probe.", &simulate.probe_settings},
                            {"scan.", &simulate.scan_settings}};
    share_out(typed.settings, owners);
    simulate.output = given.path("--output", typed.output).value_or(simulate.output);
    if (!(simulate.memory_GiB > 0.0) || std::isinf(simulate.memory_GiB)) {
        throw InputError({"--memory-gib"}, "is " + plain(simulate.memory_GiB) + "; give a number more than 0");
    }
    return simulate;
}

ReconstructOptions read(const Given& given, const Typed& typed, ReconstructOptions reconstruct) {
    const Owner owners[] = {{"recipe.", &reconstruct.settings}};
    share_out(typed.settings, owners);
    reconstruct.recording = typed.recording;
    reconstruct.output = given.path("--output", typed.output);
    reconstruct.panels = given.picture("--panels", typed.panels);
    return reconstruct;
}

MeasureOptions read(const Given& given, const Typed& typed, MeasureOptions measure) {
    measure.images.assign(typed.images.begin(), typed.images.end());
    measure.aim = read_aim(typed.points, typed.box, typed.discs, typed.speckle);
    if (measure.correlation &&
        (given.has("--point") || given.has("--box") || given.has("--disc") || given.has("--speckle"))) {
        throw InputError({"--correlation"},
                         "goes with a recording's own points; leave out --point, --box, --disc and --speckle");
    }
    measure.csv = given.path("--csv", typed.csv);
    measure.plot = given.path("--plot", typed.plot);
    return measure;
}

PanelsCommand read(const Given& given, const Typed& typed, PanelsCommand panels) {
    panels.images.assign(typed.images.begin(), typed.images.end());
    panels.output = given.picture("--output", typed.output);
    panels.dynamic_range_dB = given.positive("--dynamic-range-db", typed.dynamic_range_dB, 400.0);
    return panels;
}

BeamOptions read(const Given& given, const Typed& typed, BeamOptions beam) {
    const Owner owners[] = {{"phantom.", &beam.phantom_settings},
                            {"probe.", &beam.probe_settings},
                            {"scan.", &beam.scan_settings},
                            {"recipe.", &beam.recipe_settings}};
    share_out(typed.settings, owners);
    beam.phantom = given.text("--phantom", typed.phantom);
    beam.event = given.event(typed.event);
    beam.frequency_MHz = given.positive("--frequency-mhz", typed.frequency_MHz, 100.0);
    beam.depth_mm = given.positive("--depth-mm", typed.depth_mm, 5000.0);
    beam.width_mm = given.positive("--width-mm", typed.width_mm, 5000.0);
    beam.at_mm = given.positive("--at-mm", typed.at_mm, 5000.0);
    beam.pattern_at_mm = given.positive("--pattern-at-mm", typed.pattern_at_mm, 50000.0);
    beam.map = given.picture("--map", typed.map);
    beam.pattern = given.picture("--pattern", typed.pattern);
    beam.plot = given.picture("--plot", typed.plot);
    beam.csv = given.path("--csv", typed.csv);
    check_beam(beam);
    return beam;
}

WavefrontOptions read(const Given& given, const Typed& typed, WavefrontOptions front) {
    const Owner owners[] = {{"probe.", &front.probe_settings}, {"scan.", &front.scan_settings}};
    share_out(typed.settings, owners);
    front.probe = given.text("--probe", typed.probe);
    front.scan = given.text("--scan", typed.scan);
    front.recording = given.path("--recording", typed.recording);
    front.panels = given.picture("--panels", typed.panels);
    front.animation = given.picture("--animation", typed.animation);
    front.delays = given.picture("--delays", typed.delays);
    front.echoes = given.picture("--echoes", typed.echoes);
    front.depth_mm = given.positive("--depth-mm", typed.depth_mm, 1000.0);
    front.width_mm = given.positive("--width-mm", typed.width_mm, 1000.0);
    front.event = given.event(typed.event);
    if (typed.points.size() > 1) {
        throw InputError({"--point"}, "is given " + counted(typed.points.size(), "time") + "; give one point");
    }
    if (!typed.points.empty()) {
        front.point_m = read_point(typed.points.front());
    }
    check_wavefronts(front, given.has("--elements"));
    return front;
}

ImportOptions read(const Given& given, const Typed& typed, ImportOptions imported) {
    if (!imported.example && typed.acquisition.empty()) {
        throw InputError({"echoloom import"},
                         "ACQUISITION is required: a TOML file that describes the samples; begin with "
                         "echoloom import --example > acquisition.toml");
    }
    const Owner owners[] = {{"acquisition.", &imported.settings}};
    share_out(typed.settings, owners);
    imported.acquisition = typed.acquisition;
    imported.output = given.path("--output", typed.output).value_or(imported.output);
    return imported;
}

CompareOptions read(const Given& given, const Typed& typed, CompareOptions compare) {
    compare.before = typed.before;
    compare.after = typed.after;
    compare.tolerances = given.path("--tolerances", typed.tolerances);
    compare.picture = given.path("--picture", typed.picture);
    compare.junit = given.path("--junit", typed.junit);
    return compare;
}

ShowOptions read(const Given& given, const Typed& typed, ShowOptions show) {
    const Owner owners[] = {{"phantom.", &show.phantom_settings},
                            {"probe.", &show.probe_settings},
                            {"scan.", &show.scan_settings},
                            {"recipe.", &show.recipe_settings}};
    share_out(typed.settings, owners);
    show.file = typed.file;
    show.probe = given.text("--probe", typed.probe);
    return show;
}

ListOptions read(const Given&, const Typed&, ListOptions list) {
    return list;
}

Command read_chosen(const CLI::App& command, const CommandLine& line) {
    const Given given(command);
    const auto checked = [&](const auto& options) -> Command {
        given.check_threads(options);
        return read(given, line.typed, options);
    };
    const std::string& name = command.get_name();
    return name == "simulate"      ? checked(line.simulate)
           : name == "reconstruct" ? checked(line.reconstruct)
           : name == "measure"     ? checked(line.measure)
           : name == "panels"      ? checked(line.panels)
           : name == "beam"        ? checked(line.beam)
           : name == "wavefronts"  ? checked(line.wavefronts)
           : name == "import"      ? checked(line.imported)
           : name == "compare"     ? checked(line.compare)
           : name == "show"        ? checked(line.show)
                                   : checked(line.list);
}

}  // namespace

std::optional<Command> read_command_line(int argc, const char* const* argv) {
    CommandLine line;
    const std::unique_ptr<CLI::App> app = command_app(line);
    try {
        app->parse(argc, argv);
    } catch (const CLI::CallForHelp&) {
        print(app->help());
        return std::nullopt;
    } catch (const CLI::CallForVersion& call) {
        print(std::string(call.what()) + '\n');
        return std::nullopt;
    } catch (const CLI::ParseError& error) {
        refuse(*app, error);
    }
    if (app->get_subcommands().empty()) {
        print(app->help());
        return std::nullopt;
    }
    return read_chosen(chosen(*app), line);
}

}  // namespace echoloom
