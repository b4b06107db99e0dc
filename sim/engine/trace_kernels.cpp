#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/trace_kernels.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/cache_control.h>
#include <hwy/highway.h>

#include "sim/engine/elements.h"
#include "sim/engine/trace_kernels.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using Tag = hn::CappedTag<float, element_group>;
using Vector = hn::Vec<Tag>;

/// One bin of some columns: Z = X1 + j X2 at the bin, and conj(X1) + j conj(X2) at its mirror.
struct BinValues {
    Vector re, im, mirror_re, mirror_im;
    HWY_INLINE BinValues() {}  // Arm's vectors have constructors, which one made by the compiler may not call
};

HWY_INLINE void add_row(const RowPair& pair, std::size_t row, std::size_t k, std::size_t lane, BinValues& out) {
    const Tag d;
    const auto column = hn::Iota(d, static_cast<float>(lane));
    const auto wanted = hn::And(hn::Ge(column, hn::Set(d, static_cast<float>(pair.begin[row]))),
                                hn::Lt(column, hn::Set(d, static_cast<float>(pair.end[row]))));
    const auto fr = hn::Set(d, pair.row_factor[row][k].real());
    const auto fi = hn::Set(d, pair.row_factor[row][k].imag());
    const auto cr = hn::LoadU(d, pair.column_real + k * pair.column_step + lane);
    const auto ci = hn::LoadU(d, pair.column_imaginary + k * pair.column_step + lane);
    const auto pr = hn::NegMulAdd(fi, ci, hn::Mul(fr, cr));
    const auto pi = hn::MulAdd(fr, ci, hn::Mul(fi, cr));
    const auto mr = hn::LoadU(d, pair.real[row] + k * pair.bin_step + lane);
    const auto mi = hn::LoadU(d, pair.imaginary[row] + k * pair.bin_step + lane);
    const auto re = hn::IfThenElseZero(wanted, hn::NegMulAdd(pi, mi, hn::Mul(pr, mr)));
    const auto im = hn::IfThenElseZero(wanted, hn::MulAdd(pr, mi, hn::Mul(pi, mr)));
    if (row == 0) {
        out.re = re;
        out.im = im;
        out.mirror_re = re;
        out.mirror_im = hn::Neg(im);
    } else {
        out.re = hn::Sub(out.re, im);
        out.im = hn::Add(out.im, re);
        out.mirror_re = hn::Add(out.mirror_re, im);
        out.mirror_im = hn::Add(out.mirror_im, re);
    }
}

HWY_INLINE BinValues bin_values(const RowPair& pair, std::size_t k, std::size_t lane) {
    BinValues out;
    add_row(pair, 0, k, lane, out);
    if (pair.real[1] != nullptr) {
        add_row(pair, 1, k, lane, out);
    }
    return out;
}

#if HWY_TARGET != HWY_SCALAR
/// Two complex values a column, of bins that stand side by side, to each column's spectrum.
HWY_INLINE void store_two(const RowPair& pair, Vector re0, Vector im0, Vector re1, Vector im1, std::size_t bin,
                          std::size_t lane) {
    const Tag d;
    const hn::Repartition<double, Tag> wide;
    constexpr std::size_t block = 4;
    alignas(64) float columns[block][element_group];
    const auto low0 = hn::BitCast(wide, hn::InterleaveLower(d, re0, im0));
    const auto low1 = hn::BitCast(wide, hn::InterleaveLower(d, re1, im1));
    const auto high0 = hn::BitCast(wide, hn::InterleaveUpper(d, re0, im0));
    const auto high1 = hn::BitCast(wide, hn::InterleaveUpper(d, re1, im1));
    hn::Store(hn::BitCast(d, hn::InterleaveLower(wide, low0, low1)), d, columns[0]);
    hn::Store(hn::BitCast(d, hn::InterleaveUpper(wide, low0, low1)), d, columns[1]);
    hn::Store(hn::BitCast(d, hn::InterleaveLower(wide, high0, high1)), d, columns[2]);
    hn::Store(hn::BitCast(d, hn::InterleaveUpper(wide, high0, high1)), d, columns[3]);
    const hn::CappedTag<float, block> four;
    for (std::size_t i = 0; i < hn::Lanes(d); ++i) {
        float* to = pair.spectra + 2 * ((lane + i) * pair.distance + bin);
        hn::StoreU(hn::Load(four, columns[i % block] + i / block * block), four, to);
    }
}

#endif

/// A bin alone; at 0 Hz and at half the sampling rate it is its own mirror, and only real parts count.
HWY_INLINE void store_one(const RowPair& pair, const BinValues& value, std::size_t bin, std::size_t lane) {
    const Tag d;
    alignas(64) float parts[4][element_group];
    const bool own_mirror = bin == 0 || 2 * bin == pair.length;
    const auto half = hn::Set(d, 0.5F);
    const auto re = own_mirror ? hn::Mul(half, hn::Add(value.re, value.mirror_re)) : value.re;
    const auto im = own_mirror ? hn::Mul(half, hn::Add(value.im, value.mirror_im)) : value.im;
    hn::Store(re, d, parts[0]);
    hn::Store(im, d, parts[1]);
    hn::Store(value.mirror_re, d, parts[2]);
    hn::Store(value.mirror_im, d, parts[3]);
    for (std::size_t i = 0; i < hn::Lanes(d); ++i) {
        float* to = pair.spectra + 2 * (lane + i) * pair.distance;
        to[2 * bin] = parts[0][i];
        to[2 * bin + 1] = parts[1][i];
        if (!own_mirror) {
            to[2 * (pair.length - bin)] = parts[2][i];
            to[2 * (pair.length - bin) + 1] = parts[3][i];
        }
    }
}

void spectra(const RowPair& pair) {
    const Tag d;
    for (std::size_t lane = 0; lane < element_group; lane += hn::Lanes(d)) {
        std::size_t k = 0;
        while (k < pair.bins) {
            const std::size_t bin = pair.first_bin + k;
            const BinValues one = bin_values(pair, k, lane);
#if HWY_TARGET != HWY_SCALAR
            const bool two_left = bin > 0 && k + 1 < pair.bins && 2 * (bin + 1) < pair.length;
            if (two_left) {
                const BinValues two = bin_values(pair, k + 1, lane);
                store_two(pair, one.re, one.im, two.re, two.im, bin, lane);
                store_two(pair, two.mirror_re, two.mirror_im, one.mirror_re, one.mirror_im, pair.length - bin - 1,
                          lane);
                k += 2;
                continue;
            }
#endif
            store_one(pair, one, bin, lane);
            ++k;
        }
    }
}

template <bool second>
HWY_INLINE void add_samples(const float* HWY_RESTRICT trace, float gain, std::size_t count, float* HWY_RESTRICT row) {
    std::size_t i = 0;
#if HWY_TARGET != HWY_SCALAR
    const hn::ScalableTag<float> d;
    const std::size_t lanes = hn::Lanes(d);
    const auto factor = hn::Set(d, gain);
    for (; i + lanes <= count; i += lanes) {
        const auto low = hn::LoadU(d, trace + 2 * i);
        const auto high = hn::LoadU(d, trace + 2 * i + lanes);
        const auto part = second ? hn::ConcatOdd(d, high, low) : hn::ConcatEven(d, high, low);
        hn::StoreU(hn::Add(hn::LoadU(d, row + i), hn::Mul(factor, part)), d, row + i);
    }
#endif
    for (; i < count; ++i) {
        row[i] += gain * trace[2 * i + (second ? 1 : 0)];
    }
}

void add(const float* trace, bool imaginary, float gain, std::size_t count, float* row) {
    imaginary ? add_samples<true>(trace, gain, count, row) : add_samples<false>(trace, gain, count, row);
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(spectra);
HWY_EXPORT(add);

void fill_spectra(const RowPair& pair) {
    HWY_DYNAMIC_DISPATCH(spectra)(pair);
}

void prefetch(const float* row, std::size_t count) {
    constexpr std::size_t line = 16;
    for (std::size_t i = 0; i < count; i += line) {
        hwy::Prefetch(row + i);
    }
}

void add_part(const float* trace, bool imaginary, float gain, std::size_t count, float* row) {
    HWY_DYNAMIC_DISPATCH(add)(trace, imaginary, gain, count, row);
}

}  // namespace echoloom
#endif  // HWY_ONCE
