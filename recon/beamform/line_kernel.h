#pragma once
/// The innermost sum of delay-and-sum along a scan line, over the channels of one event. A plain twin in double
/// precision is what tests hold it to on every target.

#include <span>

#include "recon/beamform/recipe.h"
#include "recon/beamform/tile.h"

namespace echoloom {

/// Traces of all channels, [channel] every `step` floats, of so many samples each; outside them all is silent.
struct LineTraces {
    const float* samples;
    std::size_t step;
    std::int32_t count;
};

/// Adds, for every channel, weight * trace(position) to each depth of a line. Vectors of the rows are neighbouring
/// depths, and so are those of the sum, which has whole vectors. "linear" takes two neighbours, "cubic" and "upsampled"
/// four (Lagrange).
void add_to_line(std::span<const TileRow> channels, const LineTraces& traces, Interpolation interpolation,
                 std::span<float> sum);
void add_to_line_plain(std::span<const TileRow> channels, const LineTraces& traces, Interpolation interpolation,
                       std::span<float> sum);

}  // namespace echoloom
