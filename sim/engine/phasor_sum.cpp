#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/phasor_sum.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include "sim/engine/phasor_sum.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using Tag = hn::CappedTag<float, PhasorSum::lanes>;

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
#include <cmath>
#include <numbers>

namespace echoloom {

HWY_EXPORT(sum_turning);

namespace {

using Complex = std::complex<double>;

/// Without the checks for infinities of operator*.
Complex product(Complex a, Complex b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

/// By squares: a few products are quicker than a sine and a cosine.
Complex power(Complex base, unsigned exponent) {
    Complex result = 1.0;
    for (; exponent > 0; exponent /= 2) {
        result = exponent % 2 == 1 ? product(result, base) : result;
        base = product(base, base);
    }
    return result;
}

}  // namespace

PhasorSum::PhasorSum(unsigned first_steps, double step_Hz)
    : first_steps_(first_steps), step_(2.0 * std::numbers::pi * step_Hz) {}

void PhasorSum::add(double size, double time_s) {
    const Complex turn = std::polar(1.0, -step_ * time_s);
    const Complex start = size * power(turn, first_steps_);
    real_.push_back(static_cast<float>(start.real()));
    imaginary_.push_back(static_cast<float>(start.imag()));
    turn_real_.push_back(static_cast<float>(turn.real()));
    turn_imaginary_.push_back(static_cast<float>(turn.imag()));
}

void PhasorSum::finish(std::span<std::complex<double>> sum) {
    const std::size_t whole = (real_.size() + lanes - 1) / lanes * lanes;
    for (std::vector<float>* part : {&real_, &imaginary_, &turn_real_, &turn_imaginary_}) {
        part->resize(whole, 0.0F);
    }
    HWY_DYNAMIC_DISPATCH(sum_turning)
    (whole, real_.data(), imaginary_.data(), turn_real_.data(), turn_imaginary_.data(), sum.size(),
     reinterpret_cast<double*>(sum.data()));  // an array of complex is one of their parts (C++20 complex.numbers)
    for (std::vector<float>* part : {&real_, &imaginary_, &turn_real_, &turn_imaginary_}) {
        part->clear();
    }
}

}  // namespace echoloom
#endif  // HWY_ONCE
