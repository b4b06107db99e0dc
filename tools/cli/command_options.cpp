#include "tools/cli/command_options.h"

#include "tools/cli/command_help.h"

namespace echoloom {

CLI::Option* repeated(CLI::Option* option) {
    return option->allow_extra_args(false)->take_all();
}

void add_set(CLI::App& command, Typed& typed, const std::string& prefixes) {
    repeated(command.add_option("--set", typed.settings,
                                "changes a setting; KEY begins with " + prefixes + "; may be repeated"))
        ->type_name("KEY=VALUE");
}

void add_threads(CLI::App& command, CommonOptions& options) {
    command.add_option("--threads", options.threads, "threads to use; default one for each processor")->type_name("N");
}

void add_json(CLI::App& command, CommonOptions& options) {
    command.add_flag("--json", options.json, "prints JSON in place of text");
}

void add_force(CLI::App& command, CommonOptions& options) {
    command.add_flag("-f,--force", options.force, "replaces files that are already there");
}

void add_quiet(CLI::App& command, CommonOptions& options) {
    command.add_flag("-q,--quiet", options.quiet, "no progress and no messages; errors are still printed");
}

void add_common(CLI::App& command, CommonOptions& options) {
    add_threads(command, options);
    add_json(command, options);
    add_force(command, options);
    add_quiet(command, options);
}

void add_simulate(CLI::App& app, SimulateOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("simulate", simulate_help);
    command.add_option("PHANTOM", options.phantom, "what is imaged: a file or a shipped name")
        ->type_name("FILE|NAME")
        ->required();
    command.add_option("--probe", options.probe, "the array: a file or a shipped name")
        ->type_name("FILE|NAME")
        ->required();
    command.add_option("--scan", options.scan, "the transmit events: a file or a shipped name")
        ->type_name("FILE|NAME")
        ->required();
    command.add_option("-o,--output", typed.output, "the recording; default recording.h5 in the current folder")
        ->type_name("FILE");
    add_set(command, typed, "phantom., probe. or scan.");
    command.add_option("--memory-gib", options.memory_GiB, "the most memory to use, in GiB; default 2")
        ->type_name("GIB");
    command.add_option("--cells-per-block", options.cells_per_block, "")->group("");
    command.add_option("--route", options.route, "")->group("")->check(CLI::IsMember({"matrix", "direct"}));
    command.add_flag("-v,--verbose", options.verbose, "prints how the echoes are computed, and why");
    command.add_flag("-n,--dry-run", options.dry_run, "prints what the run would need, and does not start it");
    add_common(command, options);
}

void add_import(CLI::App& app, ImportOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("import", import_help);
    CLI::Option* acquisition =
        command.add_option("ACQUISITION", typed.acquisition, "describes the samples (acquisition.toml)")
            ->type_name("FILE");
    command.add_flag("--example", options.example, "prints such a file with every key explained, and stops")
        ->excludes(acquisition);
    command.add_option("-o,--output", typed.output, "the recording; default recording.h5 in the current folder")
        ->type_name("FILE");
    add_set(command, typed, "acquisition.");
    command.add_flag("-n,--dry-run", options.dry_run, "prints the report and writes nothing");
    add_common(command, options);
}

void add_reconstruct(CLI::App& app, ReconstructOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("reconstruct", reconstruct_help);
    command.add_option("RECORDING", typed.recording, "the recording")->type_name("FILE")->required();
    repeated(command.add_option("--recipe", options.recipes,
                                "how the image is formed: a file or a shipped name; may be repeated"))
        ->type_name("FILE|NAME")
        ->required();
    command
        .add_option("-o,--output", typed.output,
                    "folder for the images, or NAME.h5 for a single one; default the recording's folder")
        ->type_name("FOLDER|FILE");
    add_set(command, typed, "recipe., and is one of every recipe");
    command
        .add_option("--panels", typed.panels, "the images side by side (2 to 6); default panels.png beside the images")
        ->type_name("FILE.png");
    command.add_flag("--mark-truth", options.mark_truth, "outlines the true points and regions in the pictures");
    add_common(command, options);
}

void add_measure(CLI::App& app, MeasureOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("measure", measure_help);
    command.add_option("IMAGE", typed.images, "images (NAME.h5)")->type_name("FILE")->required();
    command.add_flag("--correlation", options.correlation,
                     "in place of widths: correlation of a target's echoes between pulses (images with keep_rf)");
    repeated(command.add_option("--point", typed.points, "a point to measure, in mm; may be repeated"))
        ->type_name("X,DEPTH");
    command.add_option("--box", typed.box, "finds bright points in this box, in mm")->type_name("X1,X2,DEPTH1,DEPTH2");
    repeated(
        command.add_option("--disc", typed.discs, "a disc to compare with its surroundings, in mm; may be repeated"))
        ->type_name("X,DEPTH,DIAMETER");
    repeated(command.add_option("--speckle", typed.speckle, "a box of even speckle, in mm; may be repeated"))
        ->type_name("X1,X2,DEPTH1,DEPTH2");
    command.add_option("--csv", typed.csv, "also writes the widths as CSV, and the rest to NAME_quantities.csv")
        ->type_name("FILE");
    command.add_option("--plot", typed.plot, "also draws curves in this folder, with their data and scripts")
        ->type_name("FOLDER");
    add_common(command, options);
}

void add_panels(CLI::App& app, PanelsCommand& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("panels", panels_help);
    command.add_option("IMAGE", typed.images, "images (NAME.h5), two to six")->type_name("FILE")->required();
    command.add_option("-o,--output", typed.output, "the picture; default panels.png beside the first image")
        ->type_name("FILE.png");
    command.add_option("--heading", options.heading, "text over all panels");
    repeated(command.add_option("--title", options.titles,
                                "a panel's title; repeated, once for each image, in their order"));
    command.add_flag("--common-peak", options.common_peak, "white is the largest peak of all, not each image's own");
    command
        .add_option("--dynamic-range-db", typed.dynamic_range_dB,
                    "from white to black, in dB; default wide enough for every recipe")
        ->type_name("DB");
    command.add_flag("--mark-truth", options.mark_truth, "outlines the true points and regions");
    add_common(command, options);
}

void add_compare(CLI::App& app, CompareOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("compare", compare_help);
    command.add_option("BEFORE", typed.before, "an image, a recording, or a folder of them")
        ->type_name("FILE|FOLDER")
        ->required();
    command.add_option("AFTER", typed.after, "the same made anew")->type_name("FILE|FOLDER")->required();
    command
        .add_option("--tolerances", typed.tolerances,
                    "what may differ; default recon/compare/tolerances.toml, which explains itself")
        ->type_name("FILE.toml");
    command
        .add_option("--picture", typed.picture,
                    "also draws before, after and their signed difference; of folders, a folder with\n"
                    "a picture of every pair that differs")
        ->type_name("FILE.png");
    command.add_option("--junit", typed.junit, "also writes the result as XML for build servers")
        ->type_name("FILE.xml");
    command.add_flag("--all", options.every, "prints every number, not only those nearest to their limits");
    add_common(command, options);
}

void add_show(CLI::App& app, ShowOptions& options, Typed& typed) {
    CLI::App& command = *app.add_subcommand("show", show_help);
    command
        .add_option("FILE", typed.file,
                    "a recording or an image; a phantom, probe, scan or recipe: a file or a shipped name")
        ->type_name("FILE|NAME")
        ->required();
    command.add_option("--probe", typed.probe, "the array a scan is for: a file or a shipped name")
        ->type_name("FILE|NAME");
    add_set(command, typed, "phantom., probe., scan. or recipe.");
    command.add_flag("--toml", options.toml, "prints the text of a phantom, probe, scan or recipe");
    command.add_flag("--verify", options.verify, "recomputes a recording's digest");
    add_threads(command, options);
    add_json(command, options);
    add_quiet(command, options);
}

void add_list(CLI::App& app, ListOptions& options) {
    CLI::App& command = *app.add_subcommand("list", list_help);
    command.add_option("KIND", options.shelf, "phantoms, probes, scans or recipes; default all")
        ->type_name("")
        ->check(CLI::IsMember({"phantoms", "probes", "scans", "recipes"}).description(""));
    add_json(command, options);
}

}  // namespace echoloom
