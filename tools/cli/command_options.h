#pragma once
/// The options of each command, and those that several share. Only command_app() calls these.

#include <CLI/CLI.hpp>
#include <string>

#include "tools/cli/command_app.h"

namespace echoloom {

/// One value an occurrence, so that an option never swallows the file names after it.
CLI::Option* repeated(CLI::Option* option);

/// `--set`; `prefixes` are those it takes: "probe. or scan.".
void add_set(CLI::App& command, Typed& typed, const std::string& prefixes);
void add_threads(CLI::App& command, CommonOptions& options);
void add_json(CLI::App& command, CommonOptions& options);
void add_force(CLI::App& command, CommonOptions& options);
void add_quiet(CLI::App& command, CommonOptions& options);
/// All four.
void add_common(CLI::App& command, CommonOptions& options);

void add_simulate(CLI::App& app, SimulateOptions& options, Typed& typed);
void add_import(CLI::App& app, ImportOptions& options, Typed& typed);
void add_reconstruct(CLI::App& app, ReconstructOptions& options, Typed& typed);
void add_measure(CLI::App& app, MeasureOptions& options, Typed& typed);
void add_panels(CLI::App& app, PanelsCommand& options, Typed& typed);
void add_compare(CLI::App& app, CompareOptions& options, Typed& typed);
void add_beam(CLI::App& app, BeamOptions& options, Typed& typed);
void add_wavefronts(CLI::App& app, WavefrontOptions& options, Typed& typed);
void add_show(CLI::App& app, ShowOptions& options, Typed& typed);
void add_list(CLI::App& app, ListOptions& options);

}  // namespace echoloom
