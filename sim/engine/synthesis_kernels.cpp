#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/synthesis_kernels.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/contrib/math/math-inl.h>
#include <hwy/highway.h>

#include <numbers>

#include "sim/engine/synthesis_kernels.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

void phases(double turns_per_bin, double weight, std::size_t first_bin, float* out) {
    const hn::CappedTag<double, chunk_bins> d;
    const hn::Rebind<float, decltype(d)> df;
    const auto angle_of_turn = hn::Set(df, static_cast<float>(2.0 * std::numbers::pi));
    const auto gain = hn::Set(df, static_cast<float>(weight));
    for (std::size_t i = 0; i < chunk_bins; i += hn::Lanes(d)) {
        const auto bin = hn::Add(hn::Iota(d, static_cast<double>(i)), hn::Set(d, static_cast<double>(first_bin)));
        const auto turns = hn::Mul(bin, hn::Set(d, turns_per_bin));
        const auto angle = hn::Mul(hn::DemoteTo(df, hn::Sub(turns, hn::Round(turns))), angle_of_turn);
        hn::StoreU(hn::Mul(gain, hn::Cos(df, angle)), df, out + i);
        hn::StoreU(hn::Neg(hn::Mul(gain, hn::Sin(df, angle))), df, out + chunk_bins + i);
    }
}

void sum(const ChunkSum& s) {
    const hn::CappedTag<float, chunk_bins> d;
    using V = hn::Vec<decltype(d)>;
    for (std::size_t lane = 0; lane < chunk_bins; lane += hn::Lanes(d)) {
        V re[events_abreast];
        V im[events_abreast];
        for (std::size_t event = 0; event < events_abreast; ++event) {
            re[event] = hn::Zero(d);
            im[event] = hn::Zero(d);
        }
        for (std::size_t n = 0; n < s.count; ++n) {
            const float* echo = s.spectra + s.pair[n] * chunk_values + lane;
            const V er = hn::Load(d, echo);
            const V ei = hn::Load(d, echo + chunk_bins);
            const float* phase = s.phases + n * events_abreast * chunk_values + lane;
            for (std::size_t event = 0; event < events_abreast; ++event) {
                const V pr = hn::Load(d, phase + event * chunk_values);
                const V pi = hn::Load(d, phase + event * chunk_values + chunk_bins);
                re[event] = hn::NegMulAdd(ei, pi, hn::MulAdd(er, pr, re[event]));
                im[event] = hn::MulAdd(ei, pr, hn::MulAdd(er, pi, im[event]));
            }
        }
        for (std::size_t event = 0; event < events_abreast; ++event) {
            hn::Store(re[event], d, s.out + event * chunk_values + lane);
            hn::Store(im[event], d, s.out + event * chunk_values + chunk_bins + lane);
        }
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(phases);
HWY_EXPORT(sum);

void fill_phases(double turns_per_bin, double weight, std::size_t first_bin, float* out) {
    HWY_DYNAMIC_DISPATCH(phases)(turns_per_bin, weight, first_bin, out);
}

void sum_chunk(const ChunkSum& s) {
    HWY_DYNAMIC_DISPATCH(sum)(s);
}

}  // namespace echoloom
#endif  // HWY_ONCE
