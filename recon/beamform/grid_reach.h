#pragma once
/// Recordings and grids that lie farther from the array than any echo comes from.

#include <span>

#include "recon/beamform/grid_axes.h"

namespace echoloom {

/// Throws InputError where echoes would take longer than 20 ms, 15 m of tissue: a start time in the wrong unit, say.
void check_reach(const RecordingInfo& info, const Recipe& recipe, const PixelColumns& columns,
                 std::span<const TransmitPath> transmit);

}  // namespace echoloom
