#include "sim/array/pulse.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

using std::numbers::pi;

/// e(t) as pulse.h states it.
double gaussian_echo(const GaussianPulse& pulse, double time_s) {
    const double sigma_f = pulse.bandwidth_fraction * pulse.center_Hz / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
    const double sigma_t = 1.0 / (2.0 * pi * sigma_f);
    return std::exp(-0.5 * time_s * time_s / (sigma_t * sigma_t)) * std::cos(2.0 * pi * pulse.center_Hz * time_s);
}

SampledPulse sampled(const GaussianPulse& pulse, double rate_Hz, int half_count) {
    SampledPulse result{rate_Hz, -half_count / rate_Hz, {}};
    for (int n = -half_count; n <= half_count; ++n) {
        result.samples.push_back(gaussian_echo(pulse, n / rate_Hz));
    }
    return result;
}

// The trapezoid rule of a smooth pulse sampled far beyond its band is the transform integral to rounding.
TEST(Pulse, SpectrumIsTheTransformOfTheEcho) {
    for (const GaussianPulse& pulse : {GaussianPulse{5e6, 0.6}, GaussianPulse{3e6, 1.2}, GaussianPulse{9e6, 0.2}}) {
        const Pulse samples = sampled(pulse, 200e6, 4000);
        const double peak = std::abs(pulse_spectrum(pulse, pulse.center_Hz));
        for (double f = -2.0 * pulse.center_Hz; f <= 2.0 * pulse.center_Hz; f += 0.13 * pulse.center_Hz) {
            EXPECT_NEAR(std::abs(pulse_spectrum(pulse, f) - pulse_spectrum(samples, f)), 0.0, 1e-12 * peak) << f;
        }
    }
}

TEST(Pulse, SpectrumFallsToHalfAtTheBandwidth) {
    const Pulse pulse = GaussianPulse{5e6, 0.6};
    const double peak = std::abs(pulse_spectrum(pulse, 5e6));
    // The lobe at negative frequencies adds 2e-10 to the lower point.
    EXPECT_NEAR(std::abs(pulse_spectrum(pulse, 3.5e6)) / peak, 0.5, 1e-9);
    EXPECT_NEAR(std::abs(pulse_spectrum(pulse, 6.5e6)) / peak, 0.5, 1e-12);
    EXPECT_EQ(std::imag(pulse_spectrum(pulse, 4e6)), 0.0);
}

// Transform pair of the Gaussian: envelope 294.1808 ns wide at half amplitude for 5 MHz and 60 %, 220.6356 ns for 80 %
// (4 ln2 / (pi B f0); recomputed by tests/published/recompute_pulse.py). Its spectrum's value at the centre is the
// envelope's area, halved: two lobes.
TEST(Pulse, DurationFollowsFromTheBandwidth) {
    for (const auto& [bandwidth, half_width_ns] : {std::pair{0.6, 294.1808}, std::pair{0.8, 220.6356}}) {
        const double sigma_s = half_width_ns * 1e-9 / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
        const double area = std::sqrt(2.0 * pi) * sigma_s;
        const double center = std::real(pulse_spectrum(GaussianPulse{5e6, bandwidth}, 5e6));
        EXPECT_NEAR(center / (0.5 * area), 1.0, 1e-6);
    }
}

TEST(Pulse, HighestFrequencyIsWhereTheLevelIsReached) {
    const GaussianPulse gaussian{5e6, 0.6};
    const Pulse samples = sampled(gaussian, 50e6, 100);
    for (const double level : {0.5, 0.1, 0.01}) {
        const double highest = pulse_highest_frequency(gaussian, level);
        const double peak = std::abs(pulse_spectrum(gaussian, 5e6));
        EXPECT_NEAR(std::abs(pulse_spectrum(gaussian, highest)) / peak, level, 1e-12);
        EXPECT_NEAR(pulse_highest_frequency(samples, level), highest, 1e-3 * highest);
    }
    EXPECT_DOUBLE_EQ(pulse_highest_frequency(gaussian, 0.5), 6.5e6);
}

TEST(Pulse, TailIsWhereTheEnvelopeStaysUnderTheLevel) {
    const GaussianPulse gaussian{5e6, 0.6};
    EXPECT_NEAR(pulse_tail_s(gaussian, 0.5), 0.5 * 294.1808e-9, 1e-13);
    EXPECT_LE(pulse_tail_s(sampled(gaussian, 200e6, 400), 1e-4), pulse_tail_s(gaussian, 1e-4) + 5e-9);
    EXPECT_DOUBLE_EQ(pulse_tail_s(SampledPulse{1e6, 2e-6, {1.0, 0.5, 0.0}}, 1e-4), 4e-6);
}

}  // namespace
}  // namespace echoloom
