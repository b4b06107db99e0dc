#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "recon/beamform/tile_weights.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include <algorithm>

#include "recon/beamform/tile_weights.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using D = hn::CappedTag<float, tile_columns>;
using V = hn::Vec<D>;

/// What all weights of an aperture have in common. Lengths are in pitches, so that in float they are as exact for any
/// array.
struct Rule {
    const float* curve;  ///< the window, intervals + 1 samples
    float intervals;
    double pitches_per_m;

    explicit Rule(const Aperture& aperture)
        : curve(aperture.window().curve().data()),
          intervals(static_cast<float>(aperture.window().curve().size() - 1)),
          pitches_per_m(1.0 / aperture.pitch_m()) {}
    float pitches(double length_m) const { return static_cast<float>(length_m * pitches_per_m); }
};

/// A share below this is one by rounding.
constexpr float min_share = 1e-5F;

/// Two neighbours on the window's curve.
struct OnCurve {
    V below, above;
};
HWY_INLINE OnCurve look_up(const float* curve, hn::Vec<hn::RebindToSigned<D>> index) {
    const D d;
#if HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_AVX2
    // Side by side in memory, so one access fetches both.
    const hn::Half<D> half;
    const hn::Rebind<double, decltype(half)> pairs;
    const hn::Rebind<std::int64_t, decltype(half)> wide;
    const hn::RebindToSigned<decltype(half)> narrow;
    const auto bytes = hn::ShiftLeft<2>(index);
    const auto* const from = reinterpret_cast<const double*>(curve);
    const auto low = hn::GatherOffset(pairs, from, hn::PromoteTo(wide, hn::LowerHalf(narrow, bytes)));
    const auto high = hn::GatherOffset(pairs, from, hn::PromoteTo(wide, hn::UpperHalf(narrow, bytes)));
    return {hn::ConcatEven(d, hn::BitCast(d, high), hn::BitCast(d, low)),
            hn::ConcatOdd(d, hn::BitCast(d, high), hn::BitCast(d, low))};
#else
    return {hn::GatherIndex(d, curve, index), hn::GatherIndex(d, curve + 1, index)};
#endif
}

/// Aperture::weight, `width` and `offset` in pitches.
HWY_INLINE V weights_of(const Rule& rule, V width, V offset) {
    const D d;
    const hn::RebindToSigned<D> di;
    const auto set = [](float value) HWY_ATTR { return hn::Set(D(), value); };
    const V half = hn::Mul(set(0.5F), width);
    const V low = hn::Max(hn::Sub(offset, set(0.5F)), hn::Neg(half));
    const V high = hn::Min(hn::Add(offset, set(0.5F)), half);
    const V share = hn::Sub(high, low);
    const V middle = hn::Div(hn::Mul(set(0.5F), hn::Add(low, high)), width);
    const V unbound = hn::Mul(hn::Add(middle, set(0.5F)), set(rule.intervals));
    const V place = hn::Min(hn::Max(unbound, hn::Zero(d)), set(rule.intervals));
    const V lower = hn::Min(hn::Floor(place), set(rule.intervals - 1.0F));
    const OnCurve window = look_up(rule.curve, hn::ConvertTo(di, lower));
    const V value = hn::MulAdd(hn::Sub(place, lower), hn::Sub(window.above, window.below), window.below);
    return hn::IfThenElseZero(hn::Gt(share, set(min_share)), hn::Mul(share, value));
}

/// Offsets of one element from the columns of a tile, in pitches.
void find_offsets(const Rule& rule, const TileApertures& tile, double lateral_m, float* offsets) {
    const hn::CappedTag<double, tile_columns> d;
    const hn::Rebind<float, decltype(d)> df;
    for (std::size_t column = 0; column < tile_columns; column += hn::Lanes(d)) {
        const auto away = hn::Sub(hn::Set(d, lateral_m), hn::Load(d, tile.lateral_m.data() + column));
        hn::StoreU(hn::DemoteTo(df, hn::Mul(away, hn::Set(d, rule.pitches_per_m))), df, offsets + column);
    }
}

/// Those of the columns of one vector, at each of its depths.
HWY_INLINE V group_offsets(const float* offsets, const TileOrder& order) {
    alignas(64) float of[tile_columns];
    for (std::size_t i = 0; i < order.half(); ++i) {
        of[i] = of[order.lanes() - order.half() + i] = offsets[i];
    }
    return hn::Load(D(), of);
}

void sampled_weights(const Aperture& aperture, const TileApertures& tile, double lateral_m, TileRow& row) {
    const D d;
    const TileOrder order;
    const Rule rule(aperture);
    const std::size_t pairs = tile.reach.size();
    const std::size_t groups = tile.min_lateral_m.size();
    row.first = groups * pairs;
    row.last = 0;
    bool reached = false;
    for (std::size_t group = 0; group < groups; ++group) {
        reached = reached || (rule.pitches(lateral_m - tile.max_lateral_m[group]) <= tile.max_reach &&
                              rule.pitches(lateral_m - tile.min_lateral_m[group]) >= -tile.max_reach);
    }
    if (!reached) {
        return;
    }
    float offsets[tile_columns];
    find_offsets(rule, tile, lateral_m, offsets);
    for (std::size_t group = 0; group < groups; ++group) {
        const float least = rule.pitches(lateral_m - tile.max_lateral_m[group]);
        const float most = rule.pitches(lateral_m - tile.min_lateral_m[group]);
        const V offset = group_offsets(offsets + group * order.half(), order);
        for (std::size_t pair = 0; pair < pairs; ++pair) {
            const std::size_t vector = pair * groups + group;
            float* const weights = row.weight.data() + vector * order.lanes();
            if (least > tile.reach[pair] || most < -tile.reach[pair]) {
                hn::Store(hn::Zero(d), d, weights);
                continue;
            }
            hn::Store(weights_of(rule, hn::Load(d, tile.width.data() + pair * order.lanes()), offset), d, weights);
            row.first = vector < row.first ? vector : row.first;
            row.last = vector + 1 > row.last ? vector + 1 : row.last;
        }
    }
}

void sampled_weights_along(const Aperture& aperture, const double* width_m, double offset_m, std::size_t pixels,
                           float* weights) {
    const D d;
    const Rule rule(aperture);
    alignas(64) float widths[tile_columns];
    const V offset = hn::Set(d, rule.pitches(offset_m));
    for (std::size_t i = 0; i < pixels; i += hn::Lanes(d)) {
        for (std::size_t k = 0; k < hn::Lanes(d); ++k) {
            widths[k] = rule.pitches(width_m[i + k]);
        }
        hn::StoreU(weights_of(rule, hn::Load(d, widths), offset), d, weights + i);
    }
}

void sum_weights(const TileRow& row, double* sums) {
    const hn::CappedTag<double, tile_columns> d;
    const hn::Rebind<float, decltype(d)> df;
    const std::size_t lanes = hn::Lanes(D());
    for (std::size_t pixel = row.first * lanes; pixel < row.last * lanes; pixel += hn::Lanes(d)) {
        const auto weight = hn::PromoteTo(d, hn::LoadU(df, row.weight.data() + pixel));
        hn::StoreU(hn::Add(hn::LoadU(d, sums + pixel), weight), d, sums + pixel);
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

void TileApertures::prepare(const Aperture& aperture) {
    const TileOrder order;
    const double pitches_per_m = 1.0 / aperture.pitch_m();
    const auto pitches = [&](std::size_t depth) { return static_cast<float>(width_m[depth] * pitches_per_m); };
    width.resize(width_m.size() * order.half());
    reach.resize(width_m.size() / order.rows());
    for (std::size_t depth = 0; depth < width_m.size(); ++depth) {
        std::fill_n(width.begin() + static_cast<std::ptrdiff_t>(depth * order.half()), order.half(), pitches(depth));
    }
    max_reach = 0.0F;
    for (std::size_t i = 0; i < reach.size(); ++i) {
        const float widest = std::max(pitches(order.rows() * i), pitches(order.rows() * (i + 1) - 1));
        reach[i] = 0.5F * (widest + 1.0F);
        max_reach = std::max(max_reach, reach[i]);
    }
    min_lateral_m.resize(tile_columns / order.half());
    max_lateral_m.resize(min_lateral_m.size());
    for (std::size_t group = 0; group < min_lateral_m.size(); ++group) {
        const auto columns = std::span(lateral_m).subspan(group * order.half(), order.half());
        const auto [least, most] = std::ranges::minmax(columns);
        min_lateral_m[group] = least;
        max_lateral_m[group] = most;
    }
}

HWY_EXPORT(sampled_weights);
HWY_EXPORT(sampled_weights_along);
HWY_EXPORT(sum_weights);

void add_weights(const TileRow& row, std::span<double> sums) {
    HWY_DYNAMIC_DISPATCH(sum_weights)(row, sums.data());
}

void find_weights_along(const Aperture& aperture, std::span<const double> width_m, double offset_m, TileRow& row) {
    if (!aperture.window().curve().empty()) {
        HWY_DYNAMIC_DISPATCH(sampled_weights_along)
        (aperture, width_m.data(), offset_m, width_m.size(), row.weight.data());
        return;
    }
    for (std::size_t i = 0; i < width_m.size(); ++i) {
        row.weight[i] = static_cast<float>(aperture.weight(width_m[i], offset_m));
    }
}

void find_weights(const Aperture& aperture, const TileApertures& tile, double lateral_m, TileRow& row) {
    if (!aperture.window().curve().empty()) {
        HWY_DYNAMIC_DISPATCH(sampled_weights)(aperture, tile, lateral_m, row);
        return;
    }
    const TileOrder order;
    for (std::size_t depth = 0; depth < tile.width_m.size(); ++depth) {
        for (std::size_t column = 0; column < tile_columns; ++column) {
            row.weight[order.pixel(depth, column)] =
                static_cast<float>(aperture.weight(tile.width_m[depth], lateral_m - tile.lateral_m[column]));
        }
    }
    find_range(order.vectors(tile.width_m.size()), row);
}

void set_weights(float weight, std::size_t depths, TileRow& row) {
    std::fill_n(row.weight.begin(), TileOrder::pixels(depths), weight);
    row.first = 0;
    row.last = weight != 0.0F ? TileOrder().vectors(depths) : 0;
}

void find_range(std::size_t vectors, TileRow& row) {
    row.first = vectors;
    row.last = 0;
    for (std::size_t vector = 0; vector < vectors; ++vector) {
        const auto weights = std::span(row.weight).subspan(vector * tile_lanes(), tile_lanes());
        if (std::ranges::any_of(weights, [](float weight) { return weight != 0.0F; })) {
            row.first = std::min(row.first, vector);
            row.last = vector + 1;
        }
    }
}

}  // namespace echoloom
#endif  // HWY_ONCE
