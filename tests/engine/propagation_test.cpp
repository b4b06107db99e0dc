#include "sim/engine/propagation.h"

#include <gtest/gtest.h>

#include <numbers>

namespace echoloom {
namespace {

double speed_m_s(const Medium& medium, double f) {
    const double extra = path_constant(medium, f, 5e6).imag() / (2.0 * std::numbers::pi * f);
    return 1.0 / (1.0 / medium.sound_speed_m_s + extra);
}

// T. L. Szabo, J. Acoust. Soc. Am. 96, 491-500, 1994; values recomputed in double precision for c = 1540 m/s at 5 MHz.
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

// 1 Np = 8.685889638 dB: 0.5 dB/cm/MHz over 1 cm at 1 MHz is 0.057564627 Np.
TEST(Propagation, AttenuationInNepers) {
    const Medium medium{1540.0, 0.5, 1.0, false};
    EXPECT_NEAR(path_constant(medium, 1e6, 5e6).real() * 0.01, 0.057564627, 1e-9);
    EXPECT_EQ(path_constant(medium, 1e6, 5e6).imag(), 0.0);
}

TEST(Propagation, SpansGrowWithTheTailsOfAttenuation) {
    const GaussianPulse pulse{5e6, 0.6};
    const EchoTable clear(pulse, Medium{1540.0, 0.0, 1.0, false}, 5e6, 40e6, 0.2, 3e-4);
    const EchoTable lossy(pulse, Medium{1540.0, 0.5, 1.0, false}, 5e6, 40e6, 0.2, 3e-4);
    EXPECT_FALSE(clear.has_tails());
    // exp(-t^2 / (2 sigma^2)) cos(...) at sigma = 124.9 ns holds all but 3e-4 of its norm within 3.6 sigma = 18
    // samples.
    EXPECT_NEAR(clear.span(0.0, 0.1, 3e-4).after, 18, 2);
    EXPECT_EQ(clear.span(0.0, 0.1, 3e-4).after, clear.span(0.0, 0.1, 3e-4).before);
    EXPECT_GT(lossy.span(0.2, 0.2, 3e-4).after, 2 * clear.span(0.2, 0.2, 3e-4).after);
    EXPECT_GT(lossy.span(0.1, 0.1, 3e-6).after, lossy.span(0.1, 0.1, 3e-4).after);
    EXPECT_LT(lossy.band(0.1, 0.1).high_Hz, clear.band(0.1, 0.1).high_Hz);
}

}  // namespace
}  // namespace echoloom
