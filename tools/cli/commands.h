#pragma once
/// What each command does, one file for each.

#include "tools/cli/command_line.h"

namespace echoloom {

void run(const SimulateOptions& options);
void run(const ReconstructOptions& options);
void run(const MeasureOptions& options);
void run(const PanelsCommand& command);
void run(const BeamOptions& options);
void run(const WavefrontOptions& options);
void run(const ImportOptions& options);
/// The exit code: 0 the same within tolerance, 1 different, 2 inconclusive.
int run(const CompareOptions& options);
void run(const ShowOptions& options);
void run(const ListOptions& options);

}  // namespace echoloom
