#pragma once
/// How much an element counts at each pixel of a tile: Aperture::weight, for neighbouring columns at a time.

#include "recon/beamform/aperture.h"
#include "recon/beamform/tile.h"

namespace echoloom {

/// The apertures of a tile's pixels: as wide as their depth asks, each about its column.
struct TileApertures {
    AlignedVector<double> along_m;  ///< [column] its place along the face
    std::vector<double> width_m;    ///< [depth], an even number of them

    TileApertures() : along_m(tile_columns) {}
};

/// In float, to 1e-5.
///
/// Fills the row's weights, and its range of vectors that have any, for an element at `along_m` of the face.
void find_weights(const Aperture& aperture, const TileApertures& tile, double along_m, TileRow& row);

/// Weights alone, for the pixels of one line: at one offset from its middle, in apertures of width [pixel], a whole
/// number of vectors.
void find_weights_along(const Aperture& aperture, std::span<const double> width_m, double offset_m, TileRow& row);

/// One weight for all pixels of so many depths of a tile.
void set_weights(float weight, std::size_t depths, TileRow& row);
/// The range of vectors that have weights, of so many, from the weights themselves.
void find_range(std::size_t vectors, TileRow& row);

}  // namespace echoloom
