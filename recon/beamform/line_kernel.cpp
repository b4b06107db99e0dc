#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "recon/beamform/line_kernel.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include <algorithm>
#include <cmath>

#include "recon/beamform/line_kernel.h"
#include "recon/beamform/neighbours-inl.h"
#include "recon/beamform/taps.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

/// Reads samples for a vector of positions one by one; outside the trace there is nothing.
struct FromTrace {
    const float* trace;
    std::int32_t count;
    I first;

    HWY_INLINE V at(I index) const {
        const hn::RebindToSigned<D> di;
        const I n = hn::Add(index, first);
        const auto inside = hn::And(hn::Gt(n, hn::Set(di, -1)), hn::Lt(n, hn::Set(di, count)));
        const I bound = hn::IfThenElseZero(inside, n);
        return hn::IfThenElseZero(hn::RebindMask(D(), inside), hn::GatherIndex(D(), trace, bound));
    }
};

/// The channels whose parts are added in registers before the sum is touched, and what each reads.
constexpr std::size_t together = 4;
struct Channels {
    const TileRow* row[together] = {};
    const float* trace[together] = {};
    std::size_t count = 0;
};

/// Vectors from first to before last.
struct Range {
    std::size_t first, last;
};

/// Where one channel's vectors lie wholly in its trace and in registers of a kind. Positions rise with depth.
template <Reading reading, class Registers>
Range near_range(const TileRow& row, std::int32_t count) {
    Range near{row.first, row.last};
    if (!fits<Registers>(row.max_span, reading)) {
        return {row.last, row.last};
    }
    while (near.first < near.last && row.base[near.first] < before(reading)) {
        ++near.first;
    }
    const auto held = static_cast<std::int32_t>(Registers::samples());
    while (near.last > near.first && row.base[near.last - 1] - before(reading) + held > count) {
        --near.last;
    }
    return near;
}

template <Reading reading, class Source>
HWY_INLINE void add_channel(const Source& source, const TileRow& row, std::size_t pixel, V (&sums)[2]) {
    const D d;
    Place place = split(hn::Sub(hn::Load(d, row.offset.data() + pixel), hn::Set(d, 0.5F)));
    place.between = hn::Sub(place.between, hn::Set(d, static_cast<float>(TilePath::off_tie)));
    std::size_t turn = 0;
    for_each_neighbour<reading>(place, hn::Load(d, row.weight.data() + pixel), [&](V tap, I index) HWY_ATTR {
        sums[turn % 2] = hn::MulAdd(tap, source.at(index), sums[turn % 2]);
        ++turn;
    });
}

HWY_INLINE void store(const V (&sums)[2], float* to) {
    const D d;
    hn::StoreU(hn::Add(hn::LoadU(d, to), hn::Add(sums[0], sums[1])), d, to);
}

template <Reading reading, class Registers>
void add_near(const Channels& channels, Range range, float* sum) {
    const D d;
    const std::size_t lanes = hn::Lanes(d);
    for (std::size_t vector = range.first; vector < range.last; ++vector) {
        V sums[2] = {hn::Zero(d), hn::Zero(d)};
        for (std::size_t c = 0; c < together; ++c) {
            const TileRow& row = *channels.row[c];
            const Registers source(channels.trace[c] + row.base[vector] - before(reading));
            add_channel<reading>(source, row, vector * lanes, sums);
        }
        store(sums, sum + vector * lanes);
    }
}

template <Reading reading>
void add_any(const Channels& channels, std::int32_t count, Range range, float* sum) {
    const D d;
    const hn::RebindToSigned<D> di;
    const std::size_t lanes = hn::Lanes(d);
    const I whole = hn::Sub(hn::Zero(di), hn::BitCast(di, hn::Set(d, rounds)));
    for (std::size_t vector = range.first; vector < range.last; ++vector) {
        V sums[2] = {hn::Zero(d), hn::Zero(d)};
        for (std::size_t c = 0; c < channels.count; ++c) {
            const TileRow& row = *channels.row[c];
            if (vector >= row.first && vector < row.last) {
                const I first = hn::Add(whole, hn::Set(di, row.base[vector] - before(reading)));
                add_channel<reading>(FromTrace{channels.trace[c], count, first}, row, vector * lanes, sums);
            }
        }
        store(sums, sum + vector * lanes);
    }
}

/// All vectors of a block of channels: those that are near by registers, the others one by one.
template <Reading reading, class Registers>
void add_block(const Channels& channels, std::int32_t count, float* sum) {
    Range all{channels.row[0]->first, channels.row[0]->last};
    Range near = near_range<reading, Registers>(*channels.row[0], count);
    for (std::size_t c = 1; c < channels.count; ++c) {
        const TileRow& row = *channels.row[c];
        const Range one = near_range<reading, Registers>(row, count);
        all.first = row.first < all.first ? row.first : all.first;
        all.last = row.last > all.last ? row.last : all.last;
        near.first = one.first > near.first ? one.first : near.first;
        near.last = one.last < near.last ? one.last : near.last;
    }
    if (!has_two_tables || channels.count < together || near.first >= near.last) {
        add_any<reading>(channels, count, all, sum);
        return;
    }
    add_any<reading>(channels, count, {all.first, near.first}, sum);
    add_near<reading, Registers>(channels, near, sum);
    add_any<reading>(channels, count, {near.last, all.last}, sum);
}

template <Reading reading>
void add_channels(const TileRow* rows, std::size_t count, const LineTraces& traces, float* sum) {
    Channels block;
    const auto flush = [&] {
        bool two = true;
        for (std::size_t c = 0; c < block.count; ++c) {
            two = two && fits<TwoRegisters>(block.row[c]->max_span, reading);
        }
        if (two) {
            add_block<reading, TwoRegisters>(block, traces.count, sum);
        } else {
            add_block<reading, FourRegisters>(block, traces.count, sum);
        }
        block.count = 0;
    };
    for (std::size_t channel = 0; channel < count; ++channel) {
        if (rows[channel].first < rows[channel].last) {
            block.row[block.count] = rows + channel;
            block.trace[block.count] = traces.samples + channel * traces.step;
            if (++block.count == together) {
                flush();
            }
        }
    }
    if (block.count > 0) {
        flush();
    }
}

void add_linear(const TileRow* rows, std::size_t count, const LineTraces& traces, float* sum) {
    add_channels<Reading::linear>(rows, count, traces, sum);
}
void add_cubic(const TileRow* rows, std::size_t count, const LineTraces& traces, float* sum) {
    add_channels<Reading::cubic>(rows, count, traces, sum);
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(add_linear);
HWY_EXPORT(add_cubic);

void add_to_line(std::span<const TileRow> channels, const LineTraces& traces, Interpolation interpolation,
                 std::span<float> sum) {
    if (interpolation == Interpolation::linear) {
        HWY_DYNAMIC_DISPATCH(add_linear)(channels.data(), channels.size(), traces, sum.data());
    } else {
        HWY_DYNAMIC_DISPATCH(add_cubic)(channels.data(), channels.size(), traces, sum.data());
    }
}

void add_to_line_plain(std::span<const TileRow> channels, const LineTraces& traces, Interpolation interpolation,
                       std::span<float> sum) {
    std::vector<double> sums(sum.begin(), sum.end());
    for (std::size_t channel = 0; channel < channels.size(); ++channel) {
        const TileRow& row = channels[channel];
        for (std::size_t pixel = row.first * tile_lanes(); pixel < row.last * tile_lanes(); ++pixel) {
            const double offset = static_cast<double>(row.offset[pixel]) - TilePath::off_tie;
            const auto taps = plain_taps(interpolation, offset - std::floor(offset));
            const std::int64_t first =
                row.base[pixel / tile_lanes()] + static_cast<std::int64_t>(std::floor(offset)) - 1;
            for (std::int64_t j = 0; j < 4; ++j) {
                const bool inside = first + j >= 0 && first + j < traces.count;
                const double sample =
                    inside ? static_cast<double>(
                                 traces.samples[static_cast<std::int64_t>(channel * traces.step) + first + j])
                           : 0.0;
                sums[pixel] += static_cast<double>(row.weight[pixel]) * taps[static_cast<std::size_t>(j)] * sample;
            }
        }
    }
    std::ranges::transform(sums, sum.begin(), [](double value) { return static_cast<float>(value); });
}

}  // namespace echoloom
#endif  // HWY_ONCE
