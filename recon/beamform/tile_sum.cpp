#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "recon/beamform/tile_sum.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include "recon/beamform/taps.h"
#include "recon/beamform/tile_sum.h"
#include "recon/beamform/two_tables.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using D = hn::CappedTag<float, tile_columns>;
using V = hn::Vec<D>;
using I = hn::Vec<hn::RebindToSigned<D>>;

/// Events whose terms are added in registers before the sums are touched.
constexpr std::size_t together = 4;

/// Reads analytic samples for a vector of positions: from two registers for each part where these hold them all.
struct FromRegisters {
    V real_low, real_high, imaginary_low, imaginary_high;

    HWY_INLINE FromRegisters(const float* from, std::size_t to_imaginary) {
        const D d;
        const std::size_t lanes = hn::Lanes(d);
        real_low = hn::LoadU(d, from);
        real_high = hn::LoadU(d, from + lanes);
        imaginary_low = hn::LoadU(d, from + to_imaginary);
        imaginary_high = hn::LoadU(d, from + to_imaginary + lanes);
    }
    HWY_INLINE V real(I index) const { return look_up(real_low, index, real_high); }
    HWY_INLINE V imaginary(I index) const { return look_up(imaginary_low, index, imaginary_high); }
};

/// The same from memory, wherever they lie; outside the silence at the trace's ends it is silent too.
struct FromMemory {
    const float* from;
    std::size_t to_imaginary;
    I least, most;

    HWY_INLINE I bound(I index) const { return hn::Min(hn::Max(index, least), most); }
    HWY_INLINE V real(I index) const { return hn::GatherIndex(D(), from, bound(index)); }
    HWY_INLINE V imaginary(I index) const { return hn::GatherIndex(D(), from + to_imaginary, bound(index)); }
};

/// Adds weight * trace(position) for analytic samples. `position` is counted from half a sample before the first
/// neighbour that is read.
template <std::size_t taps, class Source>
HWY_INLINE void add_term(const Source& source, V position, V weight, I whole, V& real, V& imaginary) {
    const D d;
    const hn::RebindToSigned<D> di;
    const auto set = [&](float value) HWY_ATTR { return hn::Set(d, value); };
    const auto add = [&](V tap, int neighbour) HWY_ATTR {
        const I index = neighbour == 0 ? whole : hn::Add(whole, hn::Set(di, neighbour));
        real = hn::MulAdd(tap, source.real(index), real);
        imaginary = hn::MulAdd(tap, source.imaginary(index), imaginary);
    };
    // u, in [-1/2, 1/2], is the place between the two nearest neighbours.
    const V u = position;
    if constexpr (taps == 2) {
        const V second = hn::MulAdd(weight, u, hn::Mul(weight, set(0.5F)));
        add(hn::Sub(weight, second), 0);
        add(second, 1);
    } else {
        const V square = hn::Mul(u, u);
        const V outer = hn::Mul(weight, hn::MulAdd(square, set(1.0F / 6.0F), set(-1.0F / 24.0F)));
        const V inner = hn::Mul(weight, hn::MulAdd(square, set(-0.5F), set(1.125F)));
        add(hn::Mul(outer, hn::Sub(set(1.5F), u)), 0);
        add(hn::Mul(inner, hn::Sub(set(0.5F), u)), 1);
        add(hn::Mul(inner, hn::Add(u, set(0.5F))), 2);
        add(hn::Mul(outer, hn::Add(u, set(1.5F))), 3);
    }
}

/// One event's part in one vector of pixels. `offset` is the receive part of the positions, less half a sample.
template <std::size_t taps>
HWY_INLINE void add_event(const TileRow& receive, V offset, const TileRow& transmit, const TileTraces& traces,
                          const float* trace, std::size_t vector, V& real, V& imaginary) {
    const D d;
    const hn::RebindToSigned<D> di;
    const std::size_t lanes = hn::Lanes(d);
    constexpr std::int32_t before = taps / 2 - 1;  // neighbours before the position's own sample
    const std::int32_t base = receive.base[vector] + transmit.base[vector];
    const float span = receive.span[vector] + transmit.span[vector];
    if (base > traces.samples || static_cast<float>(base) + span < -2.0F) {
        return;
    }
    const V position = hn::Add(offset, hn::Load(d, transmit.offset.data() + vector * lanes));
    const V weight = hn::Load(d, transmit.weight.data() + vector * lanes);
    // Adding it leaves no bits below one and rounds: what is rounded off is the place between samples, and the low bits
    // are the whole part.
    const V magic = hn::Set(d, 12582912.0F);  // 1.5 * 2^23
    const V rounded = hn::Add(position, magic);
    const V place = hn::Sub(position, hn::Sub(rounded, magic));
    if constexpr (has_two_tables) {
        const auto limit = static_cast<float>(2 * lanes - taps) + 0.99F;
        if (span < limit) {
            const FromRegisters source(trace + base - before, traces.to_imaginary);
            add_term<taps>(source, place, weight, hn::BitCast(di, rounded), real, imaginary);
            return;
        }
    }
    const std::int32_t least = -trace_silence - (base - before);
    const std::int32_t most = traces.samples + trace_silence - 1 - (base - before);
    const FromMemory source{trace + base - before, traces.to_imaginary, hn::Set(di, least), hn::Set(di, most)};
    const I whole = hn::Sub(hn::BitCast(di, rounded), hn::BitCast(di, magic));
    add_term<taps>(source, place, weight, whole, real, imaginary);
}

template <std::size_t taps>
void add_receiver(const TileRow& receive, std::span<const TileRow> transmit, const TileTraces& traces,
                  TileSums& sums) {
    const D d;
    const std::size_t lanes = hn::Lanes(d);
    for (std::size_t first = 0; first < transmit.size(); first += together) {
        const std::size_t end = first + together < transmit.size() ? first + together : transmit.size();
        std::size_t begin_vector = receive.last;
        std::size_t end_vector = receive.first;
        for (std::size_t e = first; e < end; ++e) {
            if (!transmit[e].empty()) {
                begin_vector = transmit[e].first < begin_vector ? transmit[e].first : begin_vector;
                end_vector = transmit[e].last > end_vector ? transmit[e].last : end_vector;
            }
        }
        begin_vector = begin_vector > receive.first ? begin_vector : receive.first;
        end_vector = end_vector < receive.last ? end_vector : receive.last;
        for (std::size_t vector = begin_vector; vector < end_vector; ++vector) {
            const std::size_t pixel = vector * lanes;
            const V offset = hn::Sub(hn::Load(d, receive.offset.data() + pixel), hn::Set(d, 0.5F));
            V real = hn::Zero(d);
            V imaginary = hn::Zero(d);
            for (std::size_t e = first; e < end; ++e) {
                if (vector >= transmit[e].first && vector < transmit[e].last) {
                    add_event<taps>(receive, offset, transmit[e], traces, traces.real[e], vector, real, imaginary);
                }
            }
            const V weight = hn::Load(d, receive.weight.data() + pixel);
            float* const to_real = sums.real.data() + pixel;
            float* const to_imaginary = sums.imaginary.data() + pixel;
            hn::Store(hn::MulAdd(weight, real, hn::Load(d, to_real)), d, to_real);
            hn::Store(hn::MulAdd(weight, imaginary, hn::Load(d, to_imaginary)), d, to_imaginary);
        }
    }
}

void add_linear(const TileRow& receive, std::span<const TileRow> transmit, const TileTraces& traces, TileSums& sums) {
    add_receiver<2>(receive, transmit, traces, sums);
}
void add_cubic(const TileRow& receive, std::span<const TileRow> transmit, const TileTraces& traces, TileSums& sums) {
    add_receiver<4>(receive, transmit, traces, sums);
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(add_linear);
HWY_EXPORT(add_cubic);

void add_to_tile(const TileRow& receive, std::span<const TileRow> transmit, const TileTraces& traces,
                 Interpolation interpolation, TileSums& sums) {
    if (interpolation == Interpolation::linear) {
        HWY_DYNAMIC_DISPATCH(add_linear)(receive, transmit, traces, sums);
    } else {
        HWY_DYNAMIC_DISPATCH(add_cubic)(receive, transmit, traces, sums);
    }
}

void add_to_tile_plain(const TileRow& receive, std::span<const TileRow> transmit, const TileTraces& traces,
                       Interpolation interpolation, TileSums& sums) {
    const std::size_t lanes = tile_lanes();
    const auto sample = [&](const float* trace, std::int64_t n) {
        const bool outside = n < 0 || n >= traces.samples;
        return outside ? std::complex<double>() : std::complex<double>(trace[n], trace[n + static_cast<std::int64_t>(traces.to_imaginary)]);
    };
    for (std::size_t pixel = receive.first * lanes; pixel < receive.last * lanes; ++pixel) {
        const std::size_t vector = pixel / lanes;
        std::complex<double> sum = 0.0;
        for (std::size_t e = 0; e < transmit.size(); ++e) {
            if (vector < transmit[e].first || vector >= transmit[e].last) {
                continue;
            }
            const double offset = static_cast<double>(receive.offset[pixel]) + static_cast<double>(transmit[e].offset[pixel]);
            const double whole = std::floor(offset);
            const auto taps = plain_taps(interpolation, offset - whole);
            const std::int64_t n = std::int64_t{receive.base[vector]} + transmit[e].base[vector] + static_cast<std::int64_t>(whole);
            for (int j = 0; j < 4; ++j) {
                sum += static_cast<double>(transmit[e].weight[pixel]) * taps[static_cast<std::size_t>(j)] * sample(traces.real[e], n - 1 + j);
            }
        }
        const double weight = static_cast<double>(receive.weight[pixel]);
        sums.real[pixel] = static_cast<float>(static_cast<double>(sums.real[pixel]) + weight * sum.real());
        sums.imaginary[pixel] = static_cast<float>(static_cast<double>(sums.imaginary[pixel]) + weight * sum.imag());
    }
}

}  // namespace echoloom
#endif  // HWY_ONCE
