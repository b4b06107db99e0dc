#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "recon/beamform/tile.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include <cmath>
#include <cstdint>

#include "recon/beamform/tile.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using Floats = hn::CappedTag<float, tile_columns>;

std::size_t lanes() {
    return hn::Lanes(Floats());
}

HWY_INLINE bool without_weight(const TileRow& row, std::size_t pixel) {
    const Floats d;
    return hn::AllTrue(d, hn::Eq(hn::Load(d, row.weight.data() + pixel), hn::Zero(d)));
}

/// Over the vectors that were split.
struct Extent {
    std::int32_t min_base = INT32_MAX;
    std::int32_t max_base = INT32_MIN;
    float max_span = 0.0F;

    void store(TileRow& row) const {
        row.min_base = min_base;
        row.max_base = max_base;
        row.max_span = max_span;
    }
};

/// Splits the positions of one vector into whole samples they all lie behind, and what is left.
HWY_INLINE void split(const double* positions, std::size_t first_pixel, std::size_t vector, TileRow& row,
                      Extent& extent) {
    const hn::CappedTag<double, tile_columns> d;
    const hn::Rebind<float, decltype(d)> df;
    const std::size_t count = lanes();
    auto least = hn::Load(d, positions);
    auto most = least;
    for (std::size_t i = hn::Lanes(d); i < count; i += hn::Lanes(d)) {
        least = hn::Min(least, hn::Load(d, positions + i));
        most = hn::Max(most, hn::Load(d, positions + i));
    }
    // Farther out than this lies no sample; the sum of two bases stays within 32 bits.
    const auto outside = hn::Set(d, 1e9);
    const auto base = hn::Floor(hn::Min(hn::Max(hn::MinOfLanes(d, least), hn::Neg(outside)), outside));
    const auto whole = static_cast<std::int32_t>(hn::GetLane(base));
    const auto span = static_cast<float>(hn::GetLane(hn::Sub(hn::MaxOfLanes(d, most), base)));
    row.base[vector] = whole;
    row.span[vector] = span;
    extent.min_base = whole < extent.min_base ? whole : extent.min_base;
    extent.max_base = whole > extent.max_base ? whole : extent.max_base;
    extent.max_span = span > extent.max_span ? span : extent.max_span;
    for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
        const auto offset = hn::Sub(hn::Load(d, positions + i), base);
        hn::StoreU(hn::DemoteTo(df, offset), df, row.offset.data() + first_pixel + i);
    }
}

void positions_of(const TilePoints& points, const TilePath& path, std::size_t vectors, bool weighted, TileRow& row) {
    const hn::CappedTag<double, tile_columns> d;
    const std::size_t count = lanes();
    alignas(64) double positions[tile_columns];
    const double from[3] = {path.from_m[0], path.from_m[1], path.from_m[2]};
    const double direction[3] = {path.direction[0], path.direction[1], path.direction[2]};
    const auto scale = hn::Set(d, path.samples_per_m);
    const auto extra = hn::Set(d, path.extra_samples);
    const auto steps = hn::Set(d, path.steps_per_sample);
    const auto step = hn::Set(d, 1.0 / path.steps_per_sample);
    const auto off_tie = hn::Set(d, TilePath::off_tie);
    Extent extent;
    for (std::size_t vector = weighted ? row.first : 0; vector < (weighted ? row.last : vectors); ++vector) {
        const std::size_t pixel = vector * count;
        if (weighted && without_weight(row, pixel)) {
            continue;
        }
        for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
            const auto dx = hn::Sub(hn::LoadU(d, points.x.data() + pixel + i), hn::Set(d, from[0]));
            const auto dy = hn::Sub(hn::LoadU(d, points.y.data() + pixel + i), hn::Set(d, from[1]));
            const auto dz = hn::Sub(hn::LoadU(d, points.z.data() + pixel + i), hn::Set(d, from[2]));
            const auto way =
                path.plane ? hn::MulAdd(dx, hn::Set(d, direction[0]),
                                        hn::MulAdd(dy, hn::Set(d, direction[1]), hn::Mul(dz, hn::Set(d, direction[2]))))
                           : hn::Sqrt(hn::MulAdd(dx, dx, hn::MulAdd(dy, dy, hn::Mul(dz, dz))));
            const auto whole_way = hn::Add(way, hn::LoadU(d, points.extra_m.data() + pixel + i));
            const auto position = hn::MulAdd(whole_way, scale, extra);
            hn::Store(hn::MulAdd(hn::Round(hn::Mul(position, steps)), step, off_tie), d, positions + i);
        }
        split(positions, pixel, vector, row, extent);
    }
    extent.store(row);
}

void split_all(const double* positions, std::size_t vectors, TileRow& row) {
    const std::size_t count = lanes();
    alignas(64) double some[tile_columns];
    Extent extent;
    for (std::size_t vector = 0; vector < vectors; ++vector) {
        for (std::size_t i = 0; i < count; ++i) {
            some[i] = std::round(positions[vector * count + i] * TilePath::fine_steps) / TilePath::fine_steps +
                      TilePath::off_tie;
        }
        split(some, vector * count, vector, row, extent);
    }
    extent.store(row);
}

/// cos and sin of 2 pi t, t in [-1/2, 1/2], to 5e-7: Taylor's polynomials of half the angle, doubled.
HWY_INLINE void turn(hn::Vec<Floats> t, hn::Vec<Floats>& cosine, hn::Vec<Floats>& sine) {
    const Floats df;
    const auto set = [&](double value) HWY_ATTR { return hn::Set(df, static_cast<float>(value)); };
    const auto angle = hn::Mul(t, set(3.14159265358979));
    const auto square = hn::Mul(angle, angle);
    auto s = hn::MulAdd(square, set(-1.0 / 39916800.0), set(1.0 / 362880.0));
    s = hn::MulAdd(square, s, set(-1.0 / 5040.0));
    s = hn::MulAdd(square, s, set(1.0 / 120.0));
    s = hn::MulAdd(square, s, set(-1.0 / 6.0));
    s = hn::MulAdd(hn::Mul(square, s), angle, angle);
    auto c = hn::MulAdd(square, set(1.0 / 479001600.0), set(-1.0 / 3628800.0));
    c = hn::MulAdd(square, c, set(1.0 / 40320.0));
    c = hn::MulAdd(square, c, set(-1.0 / 720.0));
    c = hn::MulAdd(square, c, set(1.0 / 24.0));
    c = hn::MulAdd(square, c, set(-0.5));
    c = hn::MulAdd(square, c, set(1.0));
    cosine = hn::NegMulAdd(hn::Mul(set(2.0), s), s, set(1.0));
    sine = hn::Mul(hn::Mul(set(2.0), s), c);
}

void turned_weights(double carrier, std::size_t vectors, TileRow& row) {
    const Floats df;
    const hn::CappedTag<double, tile_columns> d;
    const hn::Rebind<float, decltype(d)> half;
    const std::size_t count = lanes();
    for (std::size_t vector = 0; vector < vectors; ++vector) {
        const std::size_t pixel = vector * count;
        float* const to_real = row.turned_real.data() + pixel;
        float* const to_imaginary = row.turned_imaginary.data() + pixel;
        if (vector < row.first || vector >= row.last || without_weight(row, pixel)) {
            hn::Store(hn::Zero(df), df, to_real);
            hn::Store(hn::Zero(df), df, to_imaginary);
            continue;
        }
        // In double from the position itself, so that a pixel's turn does not depend on which others share its vector.
        const auto base = hn::Set(d, static_cast<double>(row.base[vector]) - TilePath::off_tie);
        alignas(64) float turns[tile_columns];
        for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
            const auto position = hn::Add(hn::PromoteTo(d, hn::LoadU(half, row.offset.data() + pixel + i)), base);
            const auto all = hn::Mul(position, hn::Set(d, carrier));
            hn::StoreU(hn::DemoteTo(half, hn::Sub(all, hn::Round(all))), half, turns + i);
        }
        hn::Vec<Floats> cosine;
        hn::Vec<Floats> sine;
        turn(hn::Load(df, turns), cosine, sine);
        const auto weight = hn::Load(df, row.weight.data() + pixel);
        hn::Store(hn::Mul(weight, cosine), df, to_real);
        hn::Store(hn::Mul(weight, sine), df, to_imaginary);
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(lanes);
HWY_EXPORT(positions_of);
HWY_EXPORT(split_all);
HWY_EXPORT(turned_weights);

std::size_t tile_lanes() {
    return HWY_DYNAMIC_DISPATCH(lanes)();
}

void find_positions(const TilePoints& points, const TilePath& path, std::size_t vectors, TileRow& row, Vectors which) {
    HWY_DYNAMIC_DISPATCH(positions_of)(points, path, vectors, which == Vectors::weighted, row);
}

void set_positions(std::span<const double> positions, std::size_t vectors, TileRow& row) {
    HWY_DYNAMIC_DISPATCH(split_all)(positions.data(), vectors, row);
}

void turn_weights(double carrier, std::size_t vectors, TileRow& row) {
    HWY_DYNAMIC_DISPATCH(turned_weights)(carrier, vectors, row);
}

}  // namespace echoloom
#endif  // HWY_ONCE
