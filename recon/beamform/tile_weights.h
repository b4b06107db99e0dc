#pragma once
/// How much an element counts at each pixel of a tile: Aperture::weight, for neighbouring columns at a time.

#include <span>

#include "recon/beamform/aperture.h"
#include "recon/beamform/tile.h"

namespace echoloom {

/// The apertures of a tile's pixels: as wide as their depth asks, each about its column.
struct TileApertures {
    AlignedVector<double> lateral_m;  ///< [column] its place along the face
    std::vector<double> width_m;      ///< [depth], an even number of them

    TileApertures() : lateral_m(tile_columns) {}
    /// Call when these are set, before weights are asked for: what is the same for all elements.
    void prepare(const Aperture& aperture);

    AlignedVector<float> width;  ///< [vector of depths][lane], in pitches, as all below
    std::vector<float> reach;    ///< [vector of depths] an element counts up to so far from a column
    float max_reach = 0.0F;      ///< of all of these
    std::vector<double> min_lateral_m, max_lateral_m;  ///< [vector of columns] of its columns, in metres
};

/// In float, to 1e-5.
///
/// Fills the row's weights, and its range of vectors that have any, for an element at `lateral_m` of the face.
void find_weights(const Aperture& aperture, const TileApertures& tile, double lateral_m, TileRow& row);

/// Weights alone, for the pixels of one line: at one offset from its middle, in apertures of width [pixel], a whole
/// number of vectors.
void find_weights_along(const Aperture& aperture, std::span<const double> width_m, double offset_m, TileRow& row);

/// One weight for all pixels of so many depths of a tile.
void set_weights(float weight, std::size_t depths, TileRow& row);
/// Adds a row's weights to sums of them, [pixel].
void add_weights(const TileRow& row, std::span<double> sums);
/// The range of vectors that have weights, of so many, from the weights themselves.
void find_range(std::size_t vectors, TileRow& row);

}  // namespace echoloom
