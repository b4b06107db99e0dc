#pragma once
/// The innermost sum of delay-and-sum, for a tile of pixels and one receiving element. A plain twin in double precision
/// is what tests hold it to on every target.

#include <span>

#include "recon/beamform/recipe.h"
#include "recon/beamform/tile.h"

namespace echoloom {

/// An event that counts in a tile, and what one element received of it: sample n at `trace[n]` and
/// `trace[n + to_imaginary]`, with `trace_silence` samples of silence at both ends.
struct TileEvent {
    const TileRow* row;
    const float* trace;
};

/// The shape that all traces have in common.
struct TraceShape {
    std::size_t to_imaginary;
    std::int32_t samples;
};

/// The sum so far, [pixel].
struct TileSums {
    AlignedVector<float> real, imaginary;
    TileSums() : real(tile_pixels), imaginary(tile_pixels) {}
};

/// Adds, for every event, receive.weight * event.weight * trace(receive position + event position). "linear" takes two
/// neighbours of an analytic trace, "cubic" four (Lagrange). "upsampled" takes the amplitude of a demodulated one
/// (demodulation.h) from three coefficients of its spline, and turned weights. Outside the traces all is silent.
void add_to_tile(const TileRow& receive, std::span<const TileEvent> events, const TraceShape& shape,
                 Interpolation interpolation, TileSums& sums);
void add_to_tile_plain(const TileRow& receive, std::span<const TileEvent> events, const TraceShape& shape,
                       Interpolation interpolation, TileSums& sums);

}  // namespace echoloom
