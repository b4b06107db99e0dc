#pragma once
/// Pixels in tiles: 32 neighbouring columns over some depths, so that what a tile needs of each trace stays in the
/// cache, and in vectors: neighbouring columns at two neighbouring depths, whose echoes lie close together in a trace.

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

/// Pixels in one vector of this machine: the first half at one depth, the second at the next.
std::size_t tile_lanes();

/// How the pixels of a tile are numbered: by pairs of depths, in these by vectors, in these depth by depth. An odd depth
/// at the end is paired with itself.
class TileOrder {
  public:
    TileOrder() : half_(tile_lanes() / 2) {}
    std::size_t half() const { return half_; }  ///< columns in a vector
    std::size_t lanes() const { return 2 * half_; }
    std::size_t pixel(std::size_t depth, std::size_t column) const {
        const std::size_t vector = depth / 2 * (tile_columns / half_) + column / half_;
        return vector * 2 * half_ + depth % 2 * half_ + column % half_;
    }
    static constexpr std::size_t even(std::size_t depths) { return (depths + 1) / 2 * 2; }
    static constexpr std::size_t pixels(std::size_t depths) { return even(depths) * tile_columns; }
    std::size_t vectors(std::size_t depths) const { return pixels(depths) / lanes(); }

  private:
    std::size_t half_;
};

/// Points of a tile, [pixel].
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
    // over all vectors:
    std::int32_t least_base = 0;
    std::int32_t most_base = 0;
    float most_span = 0.0F;
    std::size_t first = 0;  ///< vectors from here
    std::size_t last = 0;   ///< to before here have weights that are not all zero

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

/// Fills positions for so many depths of a tile.
void find_positions(const TilePoints& points, const TilePath& path, std::size_t depths, TileRow& row);
/// The same from positions that are known, [pixel] in samples.
void set_positions(std::span<const double> positions, std::size_t depths, TileRow& row);

}  // namespace echoloom
