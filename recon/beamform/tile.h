#pragma once
/// Pixels in tiles: 32 neighbouring columns over some depths, so that what a tile needs of each trace stays in the
/// cache, and in vectors: neighbouring columns at one depth, whose echoes lie close together in a trace.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "sim/base/aligned.h"
#include "sim/base/vector.h"

namespace echoloom {

inline constexpr std::size_t tile_columns = 32;
inline constexpr std::size_t tile_depths = 32;
inline constexpr std::size_t tile_pixels = tile_columns * tile_depths;

/// Columns in one vector of this machine: a divisor of tile_columns.
std::size_t tile_lanes();

/// Points of a tile, depth by depth: pixel = depth * tile_columns + column. A vector is `tile_lanes()` pixels of one
/// depth.
struct TilePoints {
    AlignedVector<double> x, y, z;
    AlignedVector<double> extra_m;  ///< added to every way

    TilePoints() : x(tile_pixels), y(tile_pixels), z(tile_pixels), extra_m(tile_pixels) {}
    void set(std::size_t pixel, const Vec3& point_m, double extra = 0.0) {
        x[pixel] = point_m.x();
        y[pixel] = point_m.y();
        z[pixel] = point_m.z();
        extra_m[pixel] = extra;
    }
    Vec3 at(std::size_t pixel) const { return {x[pixel], y[pixel], z[pixel]}; }
};

/// When a front reaches each pixel, or its echo an element, as a position in a trace; and how much it counts.
///
/// A position is `base` of its vector, whole samples, plus `offset` of the pixel, not negative and at most `span`.
struct TileRow {
    AlignedVector<float> offset;     ///< [pixel]
    AlignedVector<float> weight;     ///< [pixel]
    std::vector<std::int32_t> base;  ///< [vector]
    std::vector<float> span;         ///< [vector]
    std::size_t first = 0;           ///< vectors from here
    std::size_t last = 0;            ///< to before here have weights that are not all zero; the others are not filled

    TileRow() : offset(tile_pixels), weight(tile_pixels), base(tile_pixels), span(tile_pixels) {}
    bool empty() const { return first >= last; }
};

/// A way from or to a pixel: |p - from|, for a plane wave (p - from) . direction; in samples times samples_per_m, plus
/// extra.
struct TilePath {
    Vec3 from_m = Vec3::Zero();
    Vec3 direction = Vec3::Zero();
    bool plane = false;
    double samples_per_m = 0.0;
    double extra_samples = 0.0;
};

/// Fills positions of the vectors [row.first, row.last).
void find_positions(const TilePoints& points, const TilePath& path, TileRow& row);
/// The same from positions that are known, [pixel] in samples.
void set_positions(std::span<const double> positions, TileRow& row);

}  // namespace echoloom
