#pragma once
/// The innermost sum of delay-and-sum, for a tile of pixels and one listening element. A plain twin in double precision
/// is what tests hold it to on every target.

#include <span>

#include "recon/beamform/recipe.h"
#include "recon/beamform/tile.h"

namespace echoloom {

/// Analytic traces in memory: `real[event][n]` and `real[event][n + to_imaginary]`, sample n from 0 to `samples`, with
/// silence of `trace_silence` samples at both ends.
struct TileTraces {
    std::span<const float* const> real;  ///< [event]
    std::size_t to_imaginary = 0;
    std::int32_t samples = 0;
};

/// The sum so far, [pixel].
struct TileSums {
    AlignedVector<float> real, imaginary;
    TileSums() : real(tile_pixels), imaginary(tile_pixels) {}
};

/// Adds, for every event e, receive.weight * transmit[e].weight * trace_e(receive position + transmit[e] position).
/// "linear" takes two neighbours, "cubic" and "upsampled" four (Lagrange); outside the traces all is silent.
void add_to_tile(const TileRow& receive, std::span<const TileRow> transmit, const TileTraces& traces,
                 Interpolation interpolation, TileSums& sums);
void add_to_tile_plain(const TileRow& receive, std::span<const TileRow> transmit, const TileTraces& traces,
                       Interpolation interpolation, TileSums& sums);

}  // namespace echoloom
