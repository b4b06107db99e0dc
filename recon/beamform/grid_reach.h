#pragma once
/// Recordings that start to listen when all echoes of a grid are over.

#include <span>

#include "recon/beamform/grid_axes.h"

namespace echoloom {

/// Throws InputError naming the first such event.
void check_reach(const RecordingInfo& info, const Recipe& recipe, const PixelColumns& columns,
                 std::span<const TransmitPath> transmit);

}  // namespace echoloom
