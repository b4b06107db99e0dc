#pragma once
/// What options of one command do not go together, and numbers out of their range. Each throws InputError with the
/// option to change.

#include "tools/cli/command_line.h"

namespace echoloom {

/// Also fills in the path where none was given.
void check_beam(BeamOptions& beam);
void check_wavefronts(const WavefrontOptions& front, bool elements_given);

}  // namespace echoloom
