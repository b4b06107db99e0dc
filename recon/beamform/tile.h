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

/// Pixels in one vector of this machine.
std::size_t tile_lanes();

/// How the pixels of a tile are numbered: by pairs of depths, in these by vectors, in these depth by depth, so that a
/// vector's first half is at one depth and its second at the next. (Where a vector is a single pixel: depth by depth.)
class TileOrder {
  public:
    TileOrder() : lanes_(tile_lanes()), half_(lanes_ > 1 ? lanes_ / 2 : 1), rows_(lanes_ / half_) {}
    std::size_t lanes() const { return lanes_; }
    std::size_t half() const { return half_; }  ///< neighbouring columns in a vector
    std::size_t rows() const { return rows_; }  ///< depths in a vector
    std::size_t pixel(std::size_t depth, std::size_t column) const {
        return vector(depth, column) * lanes_ + depth % rows_ * half_ + column % half_;
    }
    std::size_t vector(std::size_t depth, std::size_t column) const {
        return depth / rows_ * (tile_columns / half_) + column / half_;
    }
    /// Depths in pairs: an odd one at the end goes with a copy of itself.
    static constexpr std::size_t even(std::size_t depths) { return (depths + 1) / 2 * 2; }
    static constexpr std::size_t pixels(std::size_t depths) { return even(depths) * tile_columns; }
    std::size_t vectors(std::size_t depths) const { return pixels(depths) / lanes_; }

  private:
    std::size_t lanes_, half_, rows_;
};

/// Points of a tile, [pixel].
struct TilePoints {
    AlignedVector<double> x, y, z;
    AlignedVector<double> extra_m;  ///< added to every way

    explicit TilePoints(std::size_t pixels = tile_pixels) : x(pixels), y(pixels), z(pixels), extra_m(pixels) {}
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
/// Of an element that receives no vector is read whose weights are all zero.
struct TileRow {
    AlignedVector<float> offset;                         ///< [pixel]
    AlignedVector<float> weight;                         ///< [pixel]
    AlignedVector<float> turned_real, turned_imaginary;  ///< [pixel] weight times how far the carrier has turned there
    std::vector<std::int32_t> base;                      ///< [vector]
    std::vector<float> span;                             ///< [vector]
    // over all vectors that were filled:
    std::int32_t min_base = 0;
    std::int32_t max_base = 0;
    float max_span = 0.0F;
    std::size_t first = 0;  ///< vectors from here
    std::size_t last = 0;   ///< to before here have weights that are not all zero

    explicit TileRow(std::size_t pixels = tile_pixels)
        : offset(pixels),
          weight(pixels),
          turned_real(pixels),
          turned_imaginary(pixels),
          base(pixels / tile_lanes()),
          span(pixels / tile_lanes()) {}
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
    /// Positions are rounded to a sample over this: to a power of two, so that in float they and the sum of two of them
    /// are exact, whatever vector they are in.
    double steps_per_sample = fine_steps;

    static constexpr double fine_steps = 32768.0;
    /// Added to all: neither a position nor a sum of two then lies on a sample or halfway between, where it would be a
    /// toss-up which neighbours are the nearest. A quarter of a step.
    static constexpr double off_tie = 0.25 / fine_steps;
};

/// Fills positions for so many vectors of pixels; of these those alone that have weights, where the others will not be
/// asked for.
enum class Vectors { all, weighted };
void find_positions(const TilePoints& points, const TilePath& path, std::size_t vectors, TileRow& row,
                    Vectors which = Vectors::all);
/// The same from positions that are known, [pixel] in samples.
void set_positions(std::span<const double> positions, std::size_t vectors, TileRow& row);

/// Turns the weights by exp(j 2 pi carrier position), carrier in cycles per sample, for so many vectors.
void turn_weights(double carrier, std::size_t vectors, TileRow& row);

}  // namespace echoloom
