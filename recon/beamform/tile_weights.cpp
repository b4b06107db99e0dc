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

/// What all weights of an aperture have in common.
struct Rule {
    const double* curve;  ///< the window, intervals + 1 samples
    double intervals;
    double pitch_m;

    explicit Rule(const Aperture& aperture)
        : curve(aperture.window().curve().data()),
          intervals(static_cast<double>(aperture.window().curve().size() - 1)),
          pitch_m(aperture.pitch_m()) {}
};

/// Aperture::weight.
template <class D>
HWY_INLINE hn::Vec<D> weights_of(D d, const Rule& rule, hn::Vec<D> width_m, hn::Vec<D> offset_m) {
    const hn::RebindToSigned<D> di;
    const auto set = [&](double value) HWY_ATTR { return hn::Set(d, value); };
    const auto half = hn::Mul(set(0.5), width_m);
    const auto half_pitch = set(0.5 * rule.pitch_m);
    const auto low = hn::Max(hn::Sub(offset_m, half_pitch), hn::Neg(half));
    const auto high = hn::Min(hn::Add(offset_m, half_pitch), half);
    const auto share = hn::Mul(hn::Sub(high, low), set(1.0 / rule.pitch_m));
    const auto middle = hn::Div(hn::Mul(set(0.5), hn::Add(low, high)), width_m);
    const auto unbound = hn::Mul(hn::Add(middle, set(0.5)), set(rule.intervals));
    const auto place = hn::Min(hn::Max(unbound, hn::Zero(d)), set(rule.intervals));
    const auto lower = hn::Min(hn::Floor(place), set(rule.intervals - 1.0));
    const auto index = hn::ConvertTo(di, lower);
    const auto below = hn::GatherIndex(d, rule.curve, index);
    const auto above = hn::GatherIndex(d, rule.curve + 1, index);
    const auto value = hn::MulAdd(hn::Sub(place, lower), hn::Sub(above, below), below);
    return hn::IfThenElseZero(hn::Gt(share, set(Aperture::least_share)), hn::Mul(share, value));
}

/// The least and the greatest of some columns' places.
struct Extent {
    double left, right;
};
Extent extent_of(const double* columns_m, std::size_t count) {
    Extent extent{columns_m[0], columns_m[0]};
    for (std::size_t i = 1; i < count; ++i) {
        extent.left = columns_m[i] < extent.left ? columns_m[i] : extent.left;
        extent.right = columns_m[i] > extent.right ? columns_m[i] : extent.right;
    }
    return extent;
}

void sampled_weights(const Aperture& aperture, const TileApertures& tile, double along_m, TileRow& row) {
    const hn::CappedTag<double, tile_columns / 2> d;  // the columns of a vector at one of its depths
    const hn::Rebind<float, decltype(d)> df;
    const std::size_t half = hn::Lanes(d);
    const TileOrder order;
    const Rule rule(aperture);
    const std::size_t depths = tile.width_m.size();
    row.first = order.vectors(depths);
    row.last = 0;
    for (std::size_t column = 0; column < tile_columns; column += half) {
        const double* columns = tile.along_m.data() + column;
        const Extent extent = extent_of(columns, half);
        for (std::size_t depth = 0; depth < depths; ++depth) {
            const std::size_t vector = order.vector(depth, column);
            float* const weights = row.weight.data() + order.pixel(depth, column);
            const double width = tile.width_m[depth];
            const double reach = 0.5 * (width + rule.pitch_m);
            if (along_m < extent.left - reach || along_m > extent.right + reach) {
                hn::StoreU(hn::Zero(df), df, weights);
                continue;
            }
            const auto offset = hn::Sub(hn::Set(d, along_m), hn::LoadU(d, columns));
            hn::StoreU(hn::DemoteTo(df, weights_of(d, rule, hn::Set(d, width), offset)), df, weights);
            row.first = vector < row.first ? vector : row.first;
            row.last = vector + 1 > row.last ? vector + 1 : row.last;
        }
    }
}

void sampled_weights_along(const Aperture& aperture, const double* width_m, double offset_m, std::size_t pixels,
                           float* weights) {
    const hn::CappedTag<double, tile_columns / 2> d;
    const hn::Rebind<float, decltype(d)> df;
    const Rule rule(aperture);
    for (std::size_t i = 0; i < pixels; i += hn::Lanes(d)) {
        const auto found = weights_of(d, rule, hn::LoadU(d, width_m + i), hn::Set(d, offset_m));
        hn::StoreU(hn::DemoteTo(df, found), df, weights + i);
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(sampled_weights);
HWY_EXPORT(sampled_weights_along);

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

void find_weights(const Aperture& aperture, const TileApertures& tile, double along_m, TileRow& row) {
    if (!aperture.window().curve().empty()) {
        HWY_DYNAMIC_DISPATCH(sampled_weights)(aperture, tile, along_m, row);
        return;
    }
    const TileOrder order;
    for (std::size_t depth = 0; depth < tile.width_m.size(); ++depth) {
        for (std::size_t column = 0; column < tile_columns; ++column) {
            row.weight[order.pixel(depth, column)] =
                static_cast<float>(aperture.weight(tile.width_m[depth], along_m - tile.along_m[column]));
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
