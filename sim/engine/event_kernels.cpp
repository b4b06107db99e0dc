#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/event_kernels.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/contrib/math/math-inl.h>
#include <hwy/highway.h>

#include <numbers>

#include "sim/engine/event_kernels.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

/// exp(-j 2 pi late frequency), the turns in double precision.
template <class DF>
HWY_INLINE void phasor(DF df, const double* late_s, double frequency_Hz, hn::Vec<DF>& re, hn::Vec<DF>& im) {
    const hn::Rebind<double, DF> d;
    const auto turns = hn::Mul(hn::LoadU(d, late_s), hn::Set(d, frequency_Hz));
    const auto angle = hn::Mul(hn::DemoteTo(df, hn::Sub(turns, hn::Round(turns))),
                               hn::Set(df, static_cast<float>(2.0 * std::numbers::pi)));
    re = hn::Cos(df, angle);
    im = hn::Neg(hn::Sin(df, angle));
}

void firing_phases(const FiringPhases& p) {
    const hn::ScalableTag<double> d;
    const hn::Rebind<float, decltype(d)> df;
    using V = hn::Vec<decltype(df)>;
    constexpr std::size_t restart = 64;  // before a recurrence has rounded too often
    for (std::size_t e = p.first; e < p.last; e += hn::Lanes(d)) {
        const V weight = hn::LoadU(df, p.weight + e);
        V step_re;
        V step_im;
        phasor(df, p.late_s + e, p.step_Hz, step_re, step_im);
        V re = hn::Zero(df);
        V im = hn::Zero(df);
        for (std::size_t k = 0; k < p.bins; ++k) {
            if (k % restart == 0) {
                phasor(df, p.late_s + e, p.first_Hz + static_cast<double>(k) * p.step_Hz, re, im);
                re = hn::Mul(re, weight);
                im = hn::Mul(im, weight);
            }
            const V fr = hn::LoadU(df, p.factor_real + k * p.padded + e);
            const V fi = hn::LoadU(df, p.factor_imaginary + k * p.padded + e);
            hn::StoreU(hn::NegMulAdd(im, fi, hn::Mul(re, fr)), df, p.real + k * p.padded + e);
            hn::StoreU(hn::MulAdd(re, fi, hn::Mul(im, fr)), df, p.imaginary + k * p.padded + e);
            const V next = hn::NegMulAdd(im, step_im, hn::Mul(re, step_re));
            im = hn::MulAdd(re, step_im, hn::Mul(im, step_re));
            re = next;
        }
    }
}

using Group = hn::CappedTag<float, element_group>;
/// Vectors that hold a group of elements.
constexpr std::size_t parts = element_group / hn::MaxLanes(Group());

/// Half on half, in this order whatever the vectors hold: the same bits for one of sixteen and for two of eight.
HWY_INLINE float sum_of_group(const hn::Vec<Group>* part) {
    alignas(64) float lane[element_group];
    for (std::size_t i = 0; i < parts; ++i) {
        hn::Store(part[i], Group(), lane + i * hn::MaxLanes(Group()));
    }
    for (std::size_t half = element_group / 2; half > 0; half /= 2) {
        for (std::size_t i = 0; i < half; ++i) {
            lane[i] += lane[i + half];
        }
    }
    return lane[0];
}

void event_sums(const EventSum& sum) {
    const ResponseGrid& g = *sum.responses;
    const FiringPhases& p = *sum.phases;
    const Group d;
    using V = hn::Vec<Group>;
    constexpr std::size_t lanes = hn::MaxLanes(Group());
    for (std::size_t k = 0; k < g.bins; ++k) {
        const float* phase_re = p.real + k * g.padded;
        const float* phase_im = p.imaginary + k * g.padded;
        float* out_re = sum.real + k * g.padded;
        float* out_im = sum.imaginary + k * g.padded;
        for (std::size_t s = 0; s < g.scatterers; ++s) {
            const float* re = g.real.data() + g.at(k, s);
            const float* im = g.imaginary.data() + g.at(k, s);
            V field_re[parts];
            V field_im[parts];
            for (std::size_t part = 0; part < parts; ++part) {
                field_re[part] = field_im[part] = hn::Zero(d);
            }
            for (std::size_t e = p.first; e < p.last; e += element_group) {
                for (std::size_t part = 0; part < parts; ++part) {
                    const std::size_t at = e + part * lanes;
                    const V gr = hn::LoadU(d, re + at);
                    const V gi = hn::LoadU(d, im + at);
                    const V pr = hn::LoadU(d, phase_re + at);
                    const V pi = hn::LoadU(d, phase_im + at);
                    field_re[part] = hn::NegMulAdd(gi, pi, hn::MulAdd(gr, pr, field_re[part]));
                    field_im[part] = hn::MulAdd(gi, pr, hn::MulAdd(gr, pi, field_im[part]));
                }
            }
            const V tr = hn::Set(d, g.strength[s] * sum_of_group(field_re));
            const V ti = hn::Set(d, g.strength[s] * sum_of_group(field_im));
            const bool fresh = sum.fresh && s == 0;
            for (std::size_t e = sum.receive_first; e < sum.receive_last; e += lanes) {
                const auto gr = hn::LoadU(d, re + e);
                const auto gi = hn::LoadU(d, im + e);
                const auto before_re = fresh ? hn::Zero(d) : hn::LoadU(d, out_re + e);
                const auto before_im = fresh ? hn::Zero(d) : hn::LoadU(d, out_im + e);
                hn::StoreU(hn::NegMulAdd(ti, gi, hn::MulAdd(tr, gr, before_re)), d, out_re + e);
                hn::StoreU(hn::MulAdd(ti, gr, hn::MulAdd(tr, gi, before_im)), d, out_im + e);
            }
        }
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(firing_phases);
HWY_EXPORT(event_sums);

void fill_firing_phases(const FiringPhases& phases) {
    HWY_DYNAMIC_DISPATCH(firing_phases)(phases);
}

void add_event_sums(const EventSum& sum) {
    HWY_DYNAMIC_DISPATCH(event_sums)(sum);
}

}  // namespace echoloom
#endif  // HWY_ONCE
