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

void sampled_weights(const Aperture& aperture, const TileApertures& tile, double along_m, TileRow& row) {
    const hn::CappedTag<double, tile_columns> d;
    const hn::Rebind<float, decltype(d)> df;
    const std::size_t lanes = tile_lanes();
    const std::size_t groups = tile_columns / lanes;
    const auto curve = aperture.window().curve();
    Edge edge{curve.data(), static_cast<double>(curve.size() - 1), aperture.pitch_m(), 0.0, along_m};
    row.first = tile.width_m.size() * groups;
    row.last = 0;
    for (std::size_t group = 0; group < groups; ++group) {
        const double* columns = tile.along_m.data() + group * lanes;
        double left = columns[0];
        double right = columns[0];
        for (std::size_t i = 1; i < lanes; ++i) {
            left = columns[i] < left ? columns[i] : left;
            right = columns[i] > right ? columns[i] : right;
        }
        for (std::size_t depth = 0; depth < tile.width_m.size(); ++depth) {
            float* const weights = row.weight.data() + depth * tile_columns + group * lanes;
            edge.width_m = tile.width_m[depth];
            const double reach = 0.5 * (edge.width_m + edge.pitch_m);
            if (along_m < left - reach || along_m > right + reach) {
                for (std::size_t i = 0; i < lanes; ++i) {
                    weights[i] = 0.0F;
                }
                continue;
            }
            for (std::size_t i = 0; i < lanes; i += hn::Lanes(d)) {
                hn::StoreU(hn::DemoteTo(df, weights_of(d, edge, columns + i)), df, weights + i);
            }
            const std::size_t vector = depth * groups + group;
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
    for (std::size_t depth = 0; depth < tile.width_m.size(); ++depth) {
        for (std::size_t column = 0; column < tile_columns; ++column) {
            row.weight[depth * tile_columns + column] =
                static_cast<float>(aperture.weight(tile.width_m[depth], along_m - tile.along_m[column]));
        }
    }
    find_range(tile.width_m.size(), row);
}

void set_weights(float weight, std::size_t depths, TileRow& row) {
    std::fill_n(row.weight.begin(), depths * tile_columns, weight);
    row.first = 0;
    row.last = weight != 0.0F ? depths * tile_columns / tile_lanes() : 0;
}

void find_range(std::size_t depths, TileRow& row) {
    const auto begin = row.weight.begin();
    const auto end = begin + static_cast<std::ptrdiff_t>(depths * tile_columns);
    const auto counts = [](float weight) { return weight != 0.0F; };
    const auto first = std::find_if(begin, end, counts);
    const auto last = std::find_if(std::reverse_iterator(end), std::reverse_iterator(first), counts).base();
    row.first = static_cast<std::size_t>(first - begin) / tile_lanes();
    row.last = first == end ? 0 : static_cast<std::size_t>(last - begin + static_cast<std::ptrdiff_t>(tile_lanes()) - 1) / tile_lanes();
}

}  // namespace echoloom
#endif  // HWY_ONCE
