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

/// What the weights of one row of pixels depend on.
struct Edge {
    const double* curve;  ///< the window, intervals + 1 samples
    double intervals;
    double pitch_m;
    double width_m;
    double along_m;  ///< of the element
};

/// Aperture::weight for the columns at `columns_m`, as many as a vector holds.
template <class D>
HWY_INLINE hn::Vec<D> weights_of(D d, const Edge& edge, const double* columns_m) {
    const hn::RebindToSigned<D> di;
    const auto set = [&](double value) HWY_ATTR { return hn::Set(d, value); };
    const auto half = set(0.5 * edge.width_m);
    const auto half_pitch = set(0.5 * edge.pitch_m);
    const auto offset = hn::Sub(set(edge.along_m), hn::LoadU(d, columns_m));
    const auto low = hn::Max(hn::Sub(offset, half_pitch), hn::Neg(half));
    const auto high = hn::Min(hn::Add(offset, half_pitch), half);
    const auto share = hn::Mul(hn::Sub(high, low), set(1.0 / edge.pitch_m));
    const auto middle = hn::Mul(hn::Add(low, high), set(0.5 / edge.width_m));
    const auto unbound = hn::Mul(hn::Add(middle, set(0.5)), set(edge.intervals));
    const auto place = hn::Min(hn::Max(unbound, hn::Zero(d)), set(edge.intervals));
    const auto lower = hn::Min(hn::Floor(place), set(edge.intervals - 1.0));
    const auto index = hn::ConvertTo(di, lower);
    const auto below = hn::GatherIndex(d, edge.curve, index);
    const auto above = hn::GatherIndex(d, edge.curve + 1, index);
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
    const std::size_t groups = tile_columns / half;
    const auto curve = aperture.window().curve();
    Edge edge{curve.data(), static_cast<double>(curve.size() - 1), aperture.pitch_m(), 0.0, along_m};
    const std::size_t depths = tile.width_m.size();
    row.first = depths / 2 * groups;
    row.last = 0;
    for (std::size_t group = 0; group < groups; ++group) {
        const double* columns = tile.along_m.data() + group * half;
        const Extent extent = extent_of(columns, half);
        for (std::size_t depth = 0; depth < depths; ++depth) {
            const std::size_t vector = depth / 2 * groups + group;
            float* const weights = row.weight.data() + (2 * vector + depth % 2) * half;
            edge.width_m = tile.width_m[depth];
            const double reach = 0.5 * (edge.width_m + edge.pitch_m);
            if (along_m < extent.left - reach || along_m > extent.right + reach) {
                hn::StoreU(hn::Zero(df), df, weights);
                continue;
            }
            hn::StoreU(hn::DemoteTo(df, weights_of(d, edge, columns)), df, weights);
            row.first = vector < row.first ? vector : row.first;
            row.last = vector + 1 > row.last ? vector + 1 : row.last;
        }
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(sampled_weights);

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
    find_range(tile.width_m.size(), row);
}

void set_weights(float weight, std::size_t depths, TileRow& row) {
    std::fill_n(row.weight.begin(), TileOrder::pixels(depths), weight);
    row.first = 0;
    row.last = weight != 0.0F ? TileOrder().vectors(depths) : 0;
}

void find_range(std::size_t depths, TileRow& row) {
    const TileOrder order;
    row.first = order.vectors(depths);
    row.last = 0;
    for (std::size_t vector = 0; vector < order.vectors(depths); ++vector) {
        const auto weights = std::span(row.weight).subspan(vector * order.lanes(), order.lanes());
        if (std::ranges::any_of(weights, [](float weight) { return weight != 0.0F; })) {
            row.first = std::min(row.first, vector);
            row.last = vector + 1;
        }
    }
}

}  // namespace echoloom
#endif  // HWY_ONCE
