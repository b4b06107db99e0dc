// The options of `beam` and `wavefronts`.

#include "tools/cli/command_help.h"
#include "tools/cli/command_options.h"

namespace echoloom {

void add_beam(CLI::App& app, BeamOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("beam", beam_help);
    repeated(command.add_option("--probe", options.probes, "an array: a file or a shipped name; may be repeated"))
        ->type_name("FILE|NAME")
        ->required();
    repeated(command.add_option("--scan", options.scans,
                                "its transmit events: a file or a shipped name; one for all probes, or one for each"))
        ->type_name("FILE|NAME")
        ->required();
    command.add_option("--event", typed.event, "which event, counted from 1; default the middle one")->type_name("N");
    repeated(command.add_option("--path", options.paths,
                                "transmit (default), receive, or two-way: their product; may be repeated"))
        ->type_name("PATH")
        ->check(CLI::IsMember({"transmit", "receive", "two-way"}));
    repeated(command.add_option("--recipe", options.recipes,
                                "of the receive beam: a file or a shipped name; may be repeated;\n"
                                "default all receiving elements with equal weights, focused as transmitted"))
        ->type_name("FILE|NAME");
    command.add_flag("--pulsed", options.pulsed, "peaks of the probe's pulse in place of a continuous wave");
    command
        .add_option("--frequency-mhz", typed.frequency_MHz,
                    "of the continuous wave; default each probe's centre frequency")
        ->type_name("MHZ");
    command.add_flag("--unfocused", options.unfocused, "all elements fire at once (a lens stays)");
    command.add_option("--phantom", typed.phantom, "whose medium it is; default lossless, 1540 m/s")
        ->type_name("FILE|NAME");
    add_set(command, typed, "phantom., probe., scan. or recipe.");
    command.add_option("--depth-mm", typed.depth_mm, "how deep; default the scan's depth, or past the near zone")
        ->type_name("MM");
    command.add_option("--width-mm", typed.width_mm, "width of the map; default what the beams need")->type_name("MM");
    command
        .add_option("--plane", options.plane,
                    "scan (default): the image's; elevation: square to it, through the beam;\ndepth: at one depth")
        ->type_name("PLANE")
        ->check(CLI::IsMember({"scan", "elevation", "depth"}));
    command.add_option("--at-mm", typed.at_mm, "depth of the plane \"depth\"; default the focus")->type_name("MM");
    command.add_option("--map", typed.map, "also draws the beams in dB")->type_name("FILE.png");
    command.add_option("--plot", typed.plot, "also draws pressure on the axis and beam width against depth")
        ->type_name("FILE.png");
    command.add_option("--pattern", typed.pattern, "also draws level against angle")->type_name("FILE.png");
    command
        .add_option("--pattern-at-mm", typed.pattern_at_mm,
                    "distance of the pattern; default the focus, or the far field where there is none")
        ->type_name("MM");
    command.add_option("--csv", typed.csv, "also writes a CSV file")->type_name("FILE");
    add_common(command, options);
}

void add_wavefronts(CLI::App& app, WavefrontOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("wavefronts", wavefronts_help);
    command.add_option("--probe", typed.probe, "the array: a file or a shipped name")->type_name("FILE|NAME");
    command.add_option("--scan", typed.scan, "whose event it is; default aimed by --focus-mm and --steer-deg")
        ->type_name("FILE|NAME");
    command
        .add_option("--event", typed.event,
                    "which event, counted from 1; default the middle one, of a recording the nearest\nto the point")
        ->type_name("N");
    add_set(command, typed, "probe. or scan.");
    repeated(command.add_option("--focus-mm", options.foci_mm,
                                "focus; may be repeated for --delays; default 40, for --delays 20 and 80"))
        ->type_name("MM");
    repeated(command.add_option("--steer-deg", options.steers_deg,
                                "steering; may be repeated for --delays; default 0, for --delays 0 and 20"))
        ->type_name("DEG");
    command.add_option("--elements", options.elements, "how many fire; default all of a row, or 64 of a longer one")
        ->type_name("N");
    command.add_option("--panels", typed.panels, "draws the front at several instants")->type_name("FILE.png");
    repeated(command.add_option("--at-us", options.instants_us,
                                "an instant of the panels, from when the front passes the middle of the face; may\n"
                                "be repeated, up to six times; default six up to beyond the focus"))
        ->type_name("US");
    command.add_option("--animation", typed.animation, "draws the front as it goes")->type_name("FILE.gif");
    command.add_option("--frames", options.frames, "of the animation; default 60")->type_name("N");
    command.add_option("--depth-mm", typed.depth_mm, "how deep the pictures reach; default a third beyond the focus")
        ->type_name("MM");
    command.add_option("--width-mm", typed.width_mm, "width of the pictures; default what array and front need")
        ->type_name("MM");
    command.add_option("--delays", typed.delays, "draws the delays above the array")->type_name("FILE.png");
    command.add_option("--echoes", typed.echoes, "draws the echoes of a point before and after the receive delays")
        ->type_name("FILE.png");
    repeated(command.add_option("--point", typed.points,
                                "where that point is, in mm; default the focus, or a recording's true point"))
        ->type_name("X,DEPTH");
    command.add_option("--recording", typed.recording, "whose echoes they are; default computed for the event")
        ->type_name("FILE");
    add_common(command, options);
}

}  // namespace echoloom
