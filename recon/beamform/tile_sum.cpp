#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "recon/beamform/tile_sum.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/cache_control.h>
#include <hwy/highway.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include "recon/beamform/neighbours-inl.h"
#include "recon/beamform/taps.h"
#include "recon/beamform/tile_sum.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

/// Reads analytic samples for a vector of positions, from registers that hold all of them.
template <class Registers>
struct FromRegisters {
    Registers real_part, imaginary_part;

    HWY_INLINE FromRegisters(const float* from, std::size_t to_imaginary)
        : real_part(from), imaginary_part(from + to_imaginary) {}
    HWY_INLINE V real(I index) const { return real_part.at(index); }
    HWY_INLINE V imaginary(I index) const { return imaginary_part.at(index); }
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

/// Sums of one vector of pixels. Neighbours are added to two sums in turn, so that none waits for the one before.
struct Sums {
    V real[2], imaginary[2];

    HWY_INLINE Sums() {
        for (std::size_t i = 0; i < 2; ++i) {
            real[i] = imaginary[i] = hn::Zero(D());
        }
    }
};

/// Adds weight * trace; of a demodulated one, weight turned by its carrier * amplitude.
template <Reading reading, class Source>
HWY_INLINE void add_term(const Source& source, const Place& place, const TileRow& row, std::size_t pixel, Sums& sums) {
    const D d;
    if constexpr (reading == Reading::spline) {
        V real = hn::Zero(d);
        V imaginary = hn::Zero(d);
        for_each_coefficient_twice(place, [&](V tap, I index) HWY_ATTR {
            real = hn::MulAdd(tap, source.real(index), real);
            imaginary = hn::MulAdd(tap, source.imaginary(index), imaginary);
        });
        const V turned_real = hn::Load(d, row.turned_real.data() + pixel);
        const V turned_imaginary = hn::Load(d, row.turned_imaginary.data() + pixel);
        sums.real[0] = hn::MulAdd(turned_real, real, sums.real[0]);
        sums.real[1] = hn::NegMulAdd(turned_imaginary, imaginary, sums.real[1]);
        sums.imaginary[0] = hn::MulAdd(turned_real, imaginary, sums.imaginary[0]);
        sums.imaginary[1] = hn::MulAdd(turned_imaginary, real, sums.imaginary[1]);
    } else {
        const V weight = hn::Load(d, row.weight.data() + pixel);
        std::size_t turn = 0;
        for_each_neighbour<reading>(place, weight, [&](V tap, I index) HWY_ATTR {
            V& real = sums.real[turn % 2];
            V& imaginary = sums.imaginary[turn % 2];
            ++turn;
            real = hn::MulAdd(tap, source.real(index), real);
            imaginary = hn::MulAdd(tap, source.imaginary(index), imaginary);
        });
    }
}

/// Positions of the receive part as split() wants them.
template <Reading reading>
HWY_INLINE V receive_offset(const TileRow& receive, std::size_t pixel) {
    return hn::Sub(hn::Load(D(), receive.offset.data() + pixel), hn::Set(D(), offset_of(reading)));
}

/// What the element receives counts in none of the vector's pixels: at the edges of apertures, a tenth of all.
HWY_INLINE bool without_weight(const TileRow& receive, std::size_t pixel) {
    return hn::AllTrue(D(), hn::Eq(hn::Load(D(), receive.weight.data() + pixel), hn::Zero(D())));
}

template <Reading reading>
HWY_INLINE void store(const TileRow& receive, std::size_t pixel, const Sums& sums, TileSums& out) {
    const D d;
    V real = hn::Add(sums.real[0], sums.real[1]);
    V imaginary = hn::Add(sums.imaginary[0], sums.imaginary[1]);
    float* const to_real = out.real.data() + pixel;
    float* const to_imaginary = out.imaginary.data() + pixel;
    if constexpr (reading == Reading::spline) {
        real = hn::Mul(real, hn::Set(d, 0.5F));
        imaginary = hn::Mul(imaginary, hn::Set(d, 0.5F));
        const V turned_real = hn::Load(d, receive.turned_real.data() + pixel);
        const V turned_imaginary = hn::Load(d, receive.turned_imaginary.data() + pixel);
        const V plus_real = hn::NegMulAdd(turned_imaginary, imaginary, hn::Load(d, to_real));
        const V plus_imaginary = hn::MulAdd(turned_imaginary, real, hn::Load(d, to_imaginary));
        hn::Store(hn::MulAdd(turned_real, real, plus_real), d, to_real);
        hn::Store(hn::MulAdd(turned_real, imaginary, plus_imaginary), d, to_imaginary);
    } else {
        const V weight = hn::Load(d, receive.weight.data() + pixel);
        hn::Store(hn::MulAdd(weight, real, hn::Load(d, to_real)), d, to_real);
        hn::Store(hn::MulAdd(weight, imaginary, hn::Load(d, to_imaginary)), d, to_imaginary);
    }
}

/// One event's part in one vector of pixels, wherever it lies.
template <Reading reading>
HWY_INLINE void add_anywhere(const TileRow& receive, const TileEvent& event, const TraceShape& shape, V offset,
                             std::size_t vector, Sums& sums) {
    const D d;
    const hn::RebindToSigned<D> di;
    const std::size_t lanes = hn::Lanes(d);
    const std::int32_t base = receive.base[vector] + event.row->base[vector];
    const float span = receive.span[vector] + event.row->span[vector];
    if (base > shape.samples || static_cast<float>(base) + span < -2.0F) {
        return;
    }
    const std::size_t pixel = vector * lanes;
    const Place place = split(hn::Add(offset, hn::Load(d, event.row->offset.data() + pixel)));
    const TileRow& row = *event.row;
    const float* const from = event.trace + base - before(reading);
    if (has_two_tables && fits<TwoRegisters>(span, reading)) {
        add_term<reading>(FromRegisters<TwoRegisters>(from, shape.to_imaginary), place, row, pixel, sums);
    } else if (has_two_tables && fits<FourRegisters>(span, reading)) {
        add_term<reading>(FromRegisters<FourRegisters>(from, shape.to_imaginary), place, row, pixel, sums);
    } else {
        const std::int32_t least = before(reading) - base - trace_silence;
        const std::int32_t most = before(reading) - base + shape.samples + trace_silence - 1;
        const FromMemory source{from, shape.to_imaginary, hn::Set(di, least), hn::Set(di, most)};
        add_term<reading>(source, {whole_samples(place), place.between}, row, pixel, sums);
    }
}

/// True where two registers hold all that any vector of the tile reads of an event, and all of it is in memory.
template <Reading reading>
bool is_near(const TileRow& receive, const TileEvent& event, const TraceShape& shape) {
    const auto both = static_cast<std::int32_t>(TwoRegisters::samples());
    const std::int32_t first = receive.min_base + event.row->min_base - before(reading);
    const std::int32_t last = receive.max_base + event.row->max_base - before(reading) + both;
    return fits<TwoRegisters>(receive.max_span + event.row->max_span, reading) && first >= -trace_silence &&
           last <= shape.samples + trace_silence;
}

/// Vectors of a tile to which events of a block add something.
struct Range {
    std::size_t first, last;
};
Range range_of(const TileRow& receive, const TileEvent* events, std::size_t count) {
    Range range{events[0].row->first, events[0].row->last};
    for (std::size_t e = 1; e < count; ++e) {
        range.first = events[e].row->first < range.first ? events[e].row->first : range.first;
        range.last = events[e].row->last > range.last ? events[e].row->last : range.last;
    }
    range.first = receive.first > range.first ? receive.first : range.first;
    range.last = receive.last < range.last ? receive.last : range.last;
    return range;
}

/// Asks for what an event that comes soon will read of its trace: of so many traces, each read for so short a stretch,
/// none is foreseen by the machine.
HWY_INLINE void fetch(const TileRow& receive, const TileEvent& event, const TraceShape& shape, std::size_t vector) {
    const float* const from =
        event.trace + receive.base[vector] + event.row->base[vector] + static_cast<std::ptrdiff_t>(hn::Lanes(D()));
    hwy::Prefetch(from);
    hwy::Prefetch(from + shape.to_imaginary);
}

/// Events whose parts are added in registers before the sums are touched.
constexpr std::size_t together = 4;

/// A block of events that are all near. `next` are those of the block that comes after, or null.
template <Reading reading, std::size_t count>
void add_near_events(const TileRow& receive, const TileEvent* events, const TileEvent* next, const TraceShape& shape,
                     TileSums& out) {
    const D d;
    const std::size_t lanes = hn::Lanes(d);
    const Range range = range_of(receive, events, count);
    for (std::size_t vector = range.first; vector < range.last; ++vector) {
        const std::size_t pixel = vector * lanes;
        if (without_weight(receive, pixel)) {
            continue;
        }
        const V offset = receive_offset<reading>(receive, pixel);
        Sums sums;
        for (std::size_t e = 0; e < count; ++e) {
            if (count == together && next != nullptr) {
                fetch(receive, next[e], shape, vector);
            }
            const TileRow& row = *events[e].row;
            const Place place = split(hn::Add(offset, hn::Load(d, row.offset.data() + pixel)));
            const float* const from = events[e].trace + receive.base[vector] + row.base[vector] - before(reading);
            add_term<reading>(FromRegisters<TwoRegisters>(from, shape.to_imaginary), place, row, pixel, sums);
        }
        store<reading>(receive, pixel, sums, out);
    }
}

template <Reading reading>
void add_near(const TileRow& receive, const TileEvent* events, std::size_t count, const TileEvent* next,
              const TraceShape& shape, TileSums& out) {
    switch (count) {
        case 1:
            return add_near_events<reading, 1>(receive, events, next, shape, out);
        case 2:
            return add_near_events<reading, 2>(receive, events, next, shape, out);
        case 3:
            return add_near_events<reading, 3>(receive, events, next, shape, out);
        default:
            return add_near_events<reading, together>(receive, events, next, shape, out);
    }
}

template <Reading reading>
void add_any(const TileRow& receive, const TileEvent* events, std::size_t count, const TraceShape& shape,
             TileSums& out) {
    const std::size_t lanes = hn::Lanes(D());
    const Range range = range_of(receive, events, count);
    for (std::size_t vector = range.first; vector < range.last; ++vector) {
        if (without_weight(receive, vector * lanes)) {
            continue;
        }
        const V offset = receive_offset<reading>(receive, vector * lanes);
        Sums sums;
        for (std::size_t e = 0; e < count; ++e) {
            add_anywhere<reading>(receive, events[e], shape, offset, vector, sums);
        }
        store<reading>(receive, vector * lanes, sums, out);
    }
}

template <Reading reading>
void add_events(const TileRow& receive, const TileEvent* events, std::size_t count, const TraceShape& shape,
                TileSums& out) {
    const auto all_near = [&](const TileEvent* some, std::size_t so_many) {
        bool near = has_two_tables && so_many > 0;
        for (std::size_t e = 0; near && e < so_many; ++e) {
            near = is_near<reading>(receive, some[e], shape);
        }
        return near;
    };
    const auto left = [&](std::size_t first) {
        return first >= count ? 0 : (count - first < together ? count - first : together);
    };
    bool near = all_near(events, left(0));
    for (std::size_t first = 0; first < count; first += together) {
        const TileEvent* const next = events + first + together;
        const bool next_near = all_near(next, left(first + together));
        if (near) {
            const bool whole = left(first + together) == together;
            add_near<reading>(receive, events + first, left(first), next_near && whole ? next : nullptr, shape, out);
        } else {
            add_any<reading>(receive, events + first, left(first), shape, out);
        }
        near = next_near;
    }
}

void add_linear(const TileRow& receive, const TileEvent* events, std::size_t count, const TraceShape& shape,
                TileSums& out) {
    add_events<Reading::linear>(receive, events, count, shape, out);
}
void add_cubic(const TileRow& receive, const TileEvent* events, std::size_t count, const TraceShape& shape,
               TileSums& out) {
    add_events<Reading::cubic>(receive, events, count, shape, out);
}
void add_spline(const TileRow& receive, const TileEvent* events, std::size_t count, const TraceShape& shape,
                TileSums& out) {
    add_events<Reading::spline>(receive, events, count, shape, out);
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(add_linear);
HWY_EXPORT(add_cubic);
HWY_EXPORT(add_spline);

void add_to_tile(const TileRow& receive, std::span<const TileEvent> events, const TraceShape& shape,
                 Interpolation interpolation, TileSums& sums) {
    switch (interpolation) {
        case Interpolation::linear:
            HWY_DYNAMIC_DISPATCH(add_linear)(receive, events.data(), events.size(), shape, sums);
            break;
        case Interpolation::cubic:
            HWY_DYNAMIC_DISPATCH(add_cubic)(receive, events.data(), events.size(), shape, sums);
            break;
        case Interpolation::upsampled:
            HWY_DYNAMIC_DISPATCH(add_spline)(receive, events.data(), events.size(), shape, sums);
            break;
    }
}

namespace {

std::complex<double> plain_sample(const TileEvent& event, const TraceShape& shape, std::int64_t n) {
    if (n < 0 || n >= shape.samples) {
        return 0.0;
    }
    return {event.trace[n], event.trace[n + static_cast<std::int64_t>(shape.to_imaginary)]};
}

/// A trace at so many samples and a fraction; of a demodulated one the amplitude.
std::complex<double> plain_value(const TileEvent& event, const TraceShape& shape, Interpolation interpolation,
                                 std::int64_t whole, double fraction) {
    std::complex<double> sum = 0.0;
    if (interpolation == Interpolation::upsampled) {
        for (std::int64_t n = whole - 1; n <= whole + 2; ++n) {
            sum += quadratic_spline(static_cast<double>(whole - n) + fraction) * plain_sample(event, shape, n);
        }
        return sum;
    }
    const auto taps = plain_taps(interpolation, fraction);
    for (int j = 0; j < 4; ++j) {
        sum += taps[static_cast<std::size_t>(j)] * plain_sample(event, shape, whole - 1 + j);
    }
    return sum;
}

std::complex<double> plain_weight(const TileRow& row, std::size_t pixel, Interpolation interpolation) {
    return interpolation == Interpolation::upsampled
               ? std::complex<double>(row.turned_real[pixel], row.turned_imaginary[pixel])
               : std::complex<double>(row.weight[pixel]);
}

/// One event's part at one pixel.
std::complex<double> plain_term(const TileRow& receive, const TileEvent& event, const TraceShape& shape,
                                Interpolation interpolation, std::size_t pixel) {
    const std::size_t vector = pixel / tile_lanes();
    const double offset = static_cast<double>(receive.offset[pixel]) + static_cast<double>(event.row->offset[pixel]);
    const double whole = std::floor(offset);
    const std::int64_t own =
        std::int64_t{receive.base[vector]} + event.row->base[vector] + static_cast<std::int64_t>(whole);
    return plain_weight(receive, pixel, interpolation) * plain_weight(*event.row, pixel, interpolation) *
           plain_value(event, shape, interpolation, own, offset - whole);
}

}  // namespace

void add_to_tile_plain(const TileRow& receive, std::span<const TileEvent> events, const TraceShape& shape,
                       Interpolation interpolation, TileSums& sums) {
    for (std::size_t pixel = receive.first * tile_lanes(); pixel < receive.last * tile_lanes(); ++pixel) {
        std::complex<double> sum(sums.real[pixel], sums.imaginary[pixel]);
        for (const TileEvent& event : events) {
            if (receive.weight[pixel] == 0.0F) {
                continue;  // its position may not be known
            }
            sum += plain_term(receive, event, shape, interpolation, pixel);
        }
        sums.real[pixel] = static_cast<float>(sum.real());
        sums.imaginary[pixel] = static_cast<float>(sum.imag());
    }
}

}  // namespace echoloom
#endif  // HWY_ONCE
