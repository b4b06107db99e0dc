#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/phasor_sum.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include "sim/engine/half_angle.h"
#include "sim/engine/phasor_sum.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using Tag = hn::CappedTag<float, PhasorSum::lanes>;

/// size exp(-j 2 pi turns), less than half a turn either way; nothing fused.
template <class D>
HWY_INLINE void phasor(D d, hn::Vec<D> size, hn::Vec<D> turns, float* HWY_RESTRICT real,
                       float* HWY_RESTRICT imaginary) {
    const auto square = hn::Mul(turns, turns);
    const auto series = [&](const auto& coefficients) HWY_ATTR {
        auto sum = hn::Zero(d);
        for (const float each : coefficients) {
            sum = hn::Add(hn::Mul(sum, square), hn::Set(d, each));
        }
        return sum;
    };
    const auto sine = hn::Mul(series(half_sine), turns);
    const auto cosine = series(half_cosine);
    const auto twice = hn::Mul(size, hn::Add(sine, sine));
    hn::StoreU(hn::Sub(size, hn::Mul(twice, sine)), d, real);
    hn::StoreU(hn::Neg(hn::Mul(twice, cosine)), d, imaginary);
}

/// Phasors at the first frequency, and their turns from one to the next.
void start_turning(std::size_t count, const double* HWY_RESTRICT size, const double* HWY_RESTRICT time_s,
                   double first_Hz, double step_Hz, float* HWY_RESTRICT real, float* HWY_RESTRICT imaginary,
                   float* HWY_RESTRICT turn_real, float* HWY_RESTRICT turn_imaginary) {
    const hn::CappedTag<double, PhasorSum::lanes> dd;
    const hn::Rebind<float, decltype(dd)> df;
    const auto part_of_turn = [&](auto turns) HWY_ATTR { return hn::DemoteTo(df, hn::Sub(turns, hn::Round(turns))); };
    for (std::size_t i = 0; i < count; i += hn::Lanes(dd)) {
        const auto time = hn::LoadU(dd, time_s + i);
        const auto sizes = hn::DemoteTo(df, hn::LoadU(dd, size + i));
        phasor(df, sizes, part_of_turn(hn::Mul(time, hn::Set(dd, first_Hz))), real + i, imaginary + i);
        phasor(df, hn::Set(df, 1.0F), part_of_turn(hn::Mul(time, hn::Set(dd, step_Hz))), turn_real + i,
               turn_imaginary + i);
    }
}

/// Adds lane i and lane i + half, and again, down to one.
HWY_INLINE float together(float* HWY_RESTRICT lanes) {
    for (std::size_t half = PhasorSum::lanes / 2; half > 0; half /= 2) {
        for (std::size_t i = 0; i < half; ++i) {
            lanes[i] += lanes[i + half];
        }
    }
    return lanes[0];
}

/// `sum` holds real and imaginary part of each bin.
void sum_turning(std::size_t count, float* HWY_RESTRICT real, float* HWY_RESTRICT imaginary,
                 const float* HWY_RESTRICT turn_real, const float* HWY_RESTRICT turn_imaginary, std::size_t bins,
                 double* HWY_RESTRICT sum) {
    const Tag d;
    const std::size_t step = hn::Lanes(d);
    HWY_ALIGN float all_real[PhasorSum::lanes];
    HWY_ALIGN float all_imaginary[PhasorSum::lanes];
    for (std::size_t bin = 0; bin < bins; ++bin) {
        for (std::size_t lane = 0; lane < PhasorSum::lanes; lane += step) {
            auto sum_real = hn::Zero(d);
            auto sum_imaginary = hn::Zero(d);
            for (std::size_t i = lane; i < count; i += PhasorSum::lanes) {
                const auto re = hn::LoadU(d, real + i);
                const auto im = hn::LoadU(d, imaginary + i);
                const auto by_re = hn::LoadU(d, turn_real + i);
                const auto by_im = hn::LoadU(d, turn_imaginary + i);
                sum_real = hn::Add(sum_real, re);
                sum_imaginary = hn::Add(sum_imaginary, im);
                hn::StoreU(hn::Sub(hn::Mul(re, by_re), hn::Mul(im, by_im)), d, real + i);
                hn::StoreU(hn::Add(hn::Mul(re, by_im), hn::Mul(im, by_re)), d, imaginary + i);
            }
            hn::Store(sum_real, d, all_real + lane);
            hn::Store(sum_imaginary, d, all_imaginary + lane);
        }
        sum[2 * bin] += static_cast<double>(together(all_real));
        sum[2 * bin + 1] += static_cast<double>(together(all_imaginary));
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(start_turning);
HWY_EXPORT(sum_turning);

PhasorSum::PhasorSum(unsigned first_steps, double step_Hz) : first_steps_(first_steps), step_Hz_(step_Hz) {}

void PhasorSum::add(double size, double time_s) {
    size_.push_back(size);
    time_s_.push_back(time_s);
}

void PhasorSum::finish(std::span<std::complex<double>> sum) {
    const std::size_t whole = (size_.size() + lanes - 1) / lanes * lanes;
    size_.resize(whole, 0.0);
    time_s_.resize(whole, 0.0);
    for (std::vector<float>* part : {&real_, &imaginary_, &turn_real_, &turn_imaginary_}) {
        part->resize(whole);
    }
    HWY_DYNAMIC_DISPATCH(start_turning)
    (whole, size_.data(), time_s_.data(), first_steps_ * step_Hz_, step_Hz_, real_.data(), imaginary_.data(),
     turn_real_.data(), turn_imaginary_.data());
    HWY_DYNAMIC_DISPATCH(sum_turning)
    (whole, real_.data(), imaginary_.data(), turn_real_.data(), turn_imaginary_.data(), sum.size(),
     reinterpret_cast<double*>(sum.data()));  // an array of complex is one of their parts (C++20 complex.numbers)
    size_.clear();
    time_s_.clear();
}

}  // namespace echoloom
#endif  // HWY_ONCE
