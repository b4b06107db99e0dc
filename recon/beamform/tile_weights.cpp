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
constexpr float least_share = 1e-5F;

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
    const auto index = hn::ConvertTo(di, lower);
    const V below = hn::GatherIndex(d, rule.curve, index);
    const V above = hn::GatherIndex(d, rule.curve + 1, index);
    const V value = hn::MulAdd(hn::Sub(place, lower), hn::Sub(above, below), below);
    return hn::IfThenElseZero(hn::Gt(share, set(least_share)), hn::Mul(share, value));
}

/// Offsets of one element from the columns of a vector, and the least and greatest of them, all in pitches.
struct Offsets {
    alignas(64) float of[tile_columns];
    float least, most;
};

void find_offsets(const Rule& rule, const TileApertures& tile, const TileOrder& order, double along_m,
                  std::size_t column, Offsets& offsets) {
    const std::size_t half = order.half();
    for (std::size_t i = 0; i < order.lanes(); ++i) {
        offsets.of[i] = rule.pitches(along_m - tile.along_m[column + i % half]);
        offsets.least = i == 0 || offsets.of[i] < offsets.least ? offsets.of[i] : offsets.least;
        offsets.most = i == 0 || offsets.of[i] > offsets.most ? offsets.of[i] : offsets.most;
    }
}

/// Widths at the depths of a vector.
HWY_INLINE V widths_of(const Rule& rule, const TileApertures& tile, const TileOrder& order, std::size_t depth) {
    const D d;
    const V first = hn::Set(d, rule.pitches(tile.width_m[depth]));
    if (order.rows() == 1) {
        return first;
    }
    const V second = hn::Set(d, rule.pitches(tile.width_m[depth + 1]));
    return hn::IfThenElse(hn::FirstN(d, order.half()), first, second);
}

void sampled_weights(const Aperture& aperture, const TileApertures& tile, double along_m, TileRow& row) {
    const D d;
    const TileOrder order;
    const Rule rule(aperture);
    const std::size_t depths = tile.width_m.size();
    row.first = order.vectors(depths);
    row.last = 0;
    Offsets offsets{};
    for (std::size_t column = 0; column < tile_columns; column += order.half()) {
        find_offsets(rule, tile, order, along_m, column, offsets);
        for (std::size_t depth = 0; depth < depths; depth += order.rows()) {
            const std::size_t vector = order.vector(depth, column);
            float* const weights = row.weight.data() + vector * order.lanes();
            const double widest = tile.width_m[depth] > tile.width_m[depth + order.rows() - 1]
                                      ? tile.width_m[depth]
                                      : tile.width_m[depth + order.rows() - 1];
            const float reach = 0.5F * (rule.pitches(widest) + 1.0F);
            if (offsets.least > reach || offsets.most < -reach) {
                hn::Store(hn::Zero(d), d, weights);
                continue;
            }
            hn::Store(weights_of(rule, widths_of(rule, tile, order, depth), hn::Load(d, offsets.of)), d, weights);
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
