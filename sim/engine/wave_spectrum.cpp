#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/wave_spectrum.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/contrib/math/math-inl.h>
#include <hwy/highway.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "sim/engine/wave_spectrum.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

constexpr std::size_t groups_together = 4;  ///< whose state stays in registers

/// Adds some groups' waves to every bin, one sum for each place in a group.
template <std::size_t groups, class D>
HWY_INLINE void run_groups(D d, const WaveBatch& batch, std::size_t first, std::size_t lane, std::size_t bins,
                           bool fresh, WaveScratch& scratch) {
    using V = hn::Vec<D>;
    V re[groups];
    V im[groups];
    V step_re[groups];
    V step_im[groups];
    const auto turn = hn::Set(d, static_cast<float>(2.0 * std::numbers::pi));
    for (std::size_t g = 0; g < groups; ++g) {
        const std::size_t at = first + g * wave_group + lane;
        const auto amplitude = hn::Mul(hn::Load(d, batch.amplitude.data() + at),
                                       hn::Exp(d, hn::Load(d, batch.first_exponent.data() + at)));
        const auto gain = hn::Exp(d, hn::Load(d, batch.step_exponent.data() + at));
        const auto start = hn::Mul(hn::Load(d, batch.first_turns.data() + at), turn);
        const auto step = hn::Mul(hn::Load(d, batch.step_turns.data() + at), turn);
        re[g] = hn::Mul(amplitude, hn::Cos(d, start));
        im[g] = hn::Neg(hn::Mul(amplitude, hn::Sin(d, start)));
        step_re[g] = hn::Mul(gain, hn::Cos(d, step));
        step_im[g] = hn::Neg(hn::Mul(gain, hn::Sin(d, step)));
    }
    for (std::size_t k = 0; k < bins; ++k) {
        float* to_re = scratch.real.data() + k * wave_group + lane;
        float* to_im = scratch.imaginary.data() + k * wave_group + lane;
        V sum_re = fresh ? hn::Zero(d) : hn::Load(d, to_re);
        V sum_im = fresh ? hn::Zero(d) : hn::Load(d, to_im);
        for (std::size_t g = 0; g < groups; ++g) {
            sum_re = hn::Add(sum_re, re[g]);
            sum_im = hn::Add(sum_im, im[g]);
            const V next = hn::NegMulAdd(im[g], step_im[g], hn::Mul(re[g], step_re[g]));
            im[g] = hn::MulAdd(re[g], step_im[g], hn::Mul(im[g], step_re[g]));
            re[g] = next;
        }
        hn::Store(sum_re, d, to_re);
        hn::Store(sum_im, d, to_im);
    }
}

void spectra(const WaveBatch& batch, std::size_t bins, WaveScratch& scratch) {
    const hn::CappedTag<float, wave_group> d;
    const std::size_t total = batch.amplitude.size();
    for (std::size_t lane = 0; lane < wave_group; lane += hn::Lanes(d)) {
        std::size_t at = 0;
        for (; at + groups_together * wave_group <= total; at += groups_together * wave_group) {
            run_groups<groups_together>(d, batch, at, lane, bins, at == 0, scratch);
        }
        for (; at < total; at += wave_group) {
            run_groups<1>(d, batch, at, lane, bins, at == 0, scratch);
        }
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(spectra);

void WaveBatch::clear() {
    for (AlignedVector<float>* values : {&amplitude, &first_exponent, &first_turns, &step_turns, &step_exponent}) {
        values->clear();
    }
}

void WaveBatch::pad() {
    const std::size_t padded = (std::max<std::size_t>(amplitude.size(), 1) + wave_group - 1) / wave_group * wave_group;
    for (AlignedVector<float>* values : {&amplitude, &first_exponent, &first_turns, &step_turns, &step_exponent}) {
        values->resize(padded, 0.0F);
    }
}

void wave_spectrum(const WaveBatch& batch, WaveScratch& scratch, std::span<float> real, std::span<float> imaginary) {
    const std::size_t bins = real.size();
    scratch.real.resize(std::max(scratch.real.size(), bins * wave_group));
    scratch.imaginary.resize(scratch.real.size());
    HWY_DYNAMIC_DISPATCH(spectra)(batch, bins, scratch);
    // Halves are added to halves: an order that every target can vectorise.
    const auto total = [](const float* lanes) {
        std::array<float, wave_group / 2> sum{};
        for (std::size_t i = 0; i < wave_group / 2; ++i) {
            sum[i] = lanes[i] + lanes[i + wave_group / 2];
        }
        for (std::size_t half = wave_group / 4; half > 0; half /= 2) {
            for (std::size_t i = 0; i < half; ++i) {
                sum[i] += sum[i + half];
            }
        }
        return sum[0];
    };
    for (std::size_t k = 0; k < bins; ++k) {
        real[k] = total(scratch.real.data() + k * wave_group);
        imaginary[k] = total(scratch.imaginary.data() + k * wave_group);
    }
}

}  // namespace echoloom
#endif  // HWY_ONCE
