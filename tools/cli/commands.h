#pragma once
/// What each subcommand does, one file for each.

#include "tools/cli/command_line.h"

namespace echoloom {

void run(const SimulateOptions& options);
void run(const ReconstructOptions& options);
void run(const MeasureOptions& options);
void run(const SheetCommand& command);
void run(const FieldOptions& options);
void run(const WavefrontOptions& options);
void run(const ImportOptions& options);
void run(const ShowOptions& options);

}  // namespace echoloom
