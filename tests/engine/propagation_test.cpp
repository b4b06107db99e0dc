#include "sim/engine/propagation.h"

#include <gtest/gtest.h>

#include <numbers>

namespace echoloom {
namespace {

double speed_m_s(const Medium& medium, double f) {
    const double extra = path_constant(medium, f, 5e6).imag() / (2.0 * std::numbers::pi * f);
    return 1.0 / (1.0 / medium.sound_speed_m_s + extra);
}

// T. L. Szabo, J. Acoust. Soc. Am. 97, 14-24, 1995 (from memory); values recomputed for c = 1540 m/s at 5 MHz by
// tests/published/recompute_pulse.py.
TEST(Propagation, DispersionOfLinearAttenuation) {
    const Medium medium{1540.0, 0.5, 1.0, true};
    EXPECT_NEAR(speed_m_s(medium, 1e6), 1537.776975, 1e-6);
    EXPECT_NEAR(speed_m_s(medium, 2e6), 1538.733593, 1e-6);
    EXPECT_NEAR(speed_m_s(medium, 5e6), 1540.0, 1e-9);
    EXPECT_NEAR(speed_m_s(medium, 10e6), 1540.959386, 1e-6);
}

TEST(Propagation, DispersionIsContinuousAtAPowerOfOne) {
    const Medium one{1540.0, 0.5, 1.0, true};
    const Medium near{1540.0, 0.5, 1.0001, true};
    EXPECT_NEAR(speed_m_s(near, 2e6), speed_m_s(one, 2e6), 1e-3);
}

// 1 Np = 20 / ln(10) = 8.685889638 dB: 0.5 dB/cm/MHz over 1 cm at 1 MHz is 0.057564627 Np (recomputed by
// tests/published/recompute_pulse.py).
TEST(Propagation, AttenuationInNepers) {
    const Medium medium{1540.0, 0.5, 1.0, false};
    EXPECT_NEAR(path_constant(medium, 1e6, 5e6).real() * 0.01, 0.057564627, 1e-9);
    EXPECT_EQ(path_constant(medium, 1e6, 5e6).imag(), 0.0);
}

TEST(Propagation, SpansGrowWithTheTailsOfAttenuationUnlessThePulseIsSplit) {
    const Pulse pulse = GaussianPulse{5e6, 0.6};
    const Medium clear{1540.0, 0.0, 1.0, false};
    const Medium lossy{1540.0, 0.5, 1.0, false};
    const EchoTable plain({pulse}, clear, 5e6, 40e6, 0.2, 3e-4);
    // exp(-t^2 / (2 sigma^2)) cos(...) at sigma = 124.9 ns holds all but 6e-7 of its norm within 5 sigma = 25 samples.
    EXPECT_NEAR(plain.span(0.0, 0.1).after, 25, 2);
    EXPECT_EQ(plain.span(0.0, 0.1).after, plain.span(0.0, 0.1).before);
    const EchoTable whole({pulse}, lossy, 5e6, 40e6, 0.2, 3e-4);
    const EchoTable upper({pulse, 1e6, 0.0}, lossy, 5e6, 40e6, 0.2, 3e-4);
    const EchoTable lower({pulse, 0.0, 1e6}, lossy, 5e6, 40e6, 0.2, 3e-4);
    EXPECT_GT(whole.span(0.2, 0.2).after, 10 * upper.span(0.2, 0.2).after);
    EXPECT_GT(lower.span(0.2, 0.2).after, lower.core(0.2, 0.2).after);
    EXPECT_LT(whole.band(0.1, 0.1).high_Hz, plain.band(0.1, 0.1).high_Hz);
    EXPECT_LE(lower.band(0.1, 0.1).high_Hz, 3.45e6);  // S = 8e-5 there
    EXPECT_FALSE(lower.negligible());
    const Pulse narrow = GaussianPulse{5e6, 0.2};
    EXPECT_TRUE(EchoTable({narrow, 0.0, 1e6}, lossy, 5e6, 40e6, 0.02, 3e-4).negligible());
}

TEST(Propagation, TheTwoPartsOfAPulseAddUpToIt) {
    const Pulse pulse = GaussianPulse{5e6, 0.6};
    for (double f = 0.0; f < 12e6; f += 0.3e6) {
        const auto sum = PulseBand{pulse, 1e6, 0.0}.spectrum(f) + PulseBand{pulse, 0.0, 1e6}.spectrum(f);
        EXPECT_LT(std::abs(sum - pulse_spectrum(pulse, f)), 1e-15 * std::abs(pulse_spectrum(pulse, 5e6)));
    }
}

}  // namespace
}  // namespace echoloom
