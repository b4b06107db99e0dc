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

/// Fills the row's weights, and its range of vectors that have any, for an element at `along_m` of the face.
void find_weights(const Aperture& aperture, const TileApertures& tile, double along_m, TileRow& row);

/// One weight for all pixels of so many depths.
void set_weights(float weight, std::size_t depths, TileRow& row);
/// Range of vectors with weights, from the weights themselves.
void find_range(std::size_t depths, TileRow& row);

}  // namespace echoloom
