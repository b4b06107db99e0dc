/// Rings by their edges, against the disc's known values and a Rayleigh integral written here in another way.

#include "sim/engine/ring_response.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <complex>
#include <numbers>
#include <random>

#include "sim/engine/wave_spectrum.h"

namespace echoloom {
namespace {

using std::numbers::pi;
using Complex = std::complex<double>;

constexpr double speed = 1540.0;

Complex lossless(double frequency_Hz) {
    return {0.0, 2.0 * pi * frequency_Hz / speed};
}

/// Gauss-Legendre panels along the radius, the trapezoidal rule around it. Eight points: M. Abramowitz & I. A. Stegun,
/// Handbook of Mathematical Functions, 1964, table 25.4 (from memory; tests/published/recompute_mathematics.py).
Complex rayleigh_integral(double inner, double outer, double r, double z, Complex gamma) {
    constexpr std::array<double, 4> node = {0.1834346424956498, 0.5255324099163290, 0.7966664774136267,
                                            0.9602898564975363};
    constexpr std::array<double, 4> weight = {0.3626837833783620, 0.3137066458778873, 0.2223810344533745,
                                              0.1012285362903763};
    constexpr int panels = 30;
    constexpr int around = 800;
    const double length = (outer - inner) / panels;
    Complex sum;
    for (int panel = 0; panel < panels; ++panel) {
        for (std::size_t i = 0; i < 8; ++i) {
            const double at = (i < 4 ? 1.0 : -1.0) * node[i % 4];
            const double radius = inner + (panel + 0.5 + 0.5 * at) * length;
            Complex turn;
            for (int j = 0; j < around; ++j) {
                const double angle = 2.0 * pi * (j + 0.5) / around;
                const double path = std::sqrt(z * z + radius * radius + r * r - 2.0 * radius * r * std::cos(angle));
                turn += std::exp(-gamma * path) / (2.0 * pi * path);
            }
            sum += turn * (2.0 * pi / around * radius * weight[i % 4] * 0.5 * length);
        }
    }
    return sum;
}

/// a = 5 mm, z = 20 mm, 3 MHz, 1540 m/s: transform of the disc's impulse response (P. R. Stepanishen, J. Acoust. Soc.
/// Am. 49, 1629-1638, 1971; formula from memory), recomputed over the face by tests/published/recompute_pistons.py.
TEST(RingResponse, DiscHasThePublishedValues) {
    const Complex on_axis = ring_response(0.0, 5e-3, 0.0, 20e-3, lossless(3e6));
    EXPECT_NEAR(on_axis.real(), 8.881495594395e-05, 1e-15);
    EXPECT_NEAR(on_axis.imag(), -3.553884848658e-05, 1e-15);
    const Complex beside = ring_response(0.0, 5e-3, 3e-3, 20e-3, lossless(3e6));
    EXPECT_NEAR(beside.real(), 3.786553730071e-05, 1e-15);
    EXPECT_NEAR(beside.imag(), -7.589213806212e-05, 1e-15);
}

/// 2 |sin(k/2 (sqrt(z^2 + a^2) - z))|, Kinsler, Frey, Coppens & Sanders, Fundamentals of Acoustics, 4th ed., 7.4 (from
/// memory). Pressure over rho c v is k |H|.
TEST(RingResponse, DiscOnItsAxisFollowsTheClosedForm) {
    for (const double z : {5e-3, 10e-3, 20e-3, 48.5730e-3, 100e-3}) {
        const Complex gamma = lossless(3e6);
        const double wavenumber = gamma.imag();
        const double expected = 2.0 * std::abs(std::sin(0.5 * wavenumber * (std::hypot(z, 5e-3) - z)));
        EXPECT_NEAR(wavenumber * std::abs(ring_response(0.0, 5e-3, 0.0, z, gamma)), expected, 1e-9) << z;
    }
    // A ring is two discs: exp(-j k R_inner) - exp(-j k R_outer) over j k.
    const Complex gamma = lossless(5e6);
    const Complex expected =
        (std::exp(-gamma * std::hypot(30e-3, 2e-3)) - std::exp(-gamma * std::hypot(30e-3, 4e-3))) / gamma;
    EXPECT_NEAR(std::abs(ring_response(2e-3, 4e-3, 0.0, 30e-3, gamma) - expected), 0.0, 1e-15);
}

TEST(RingResponse, EqualsTheRayleighIntegralAnywhereWithLoss) {
    std::mt19937 draw(7);
    std::uniform_real_distribution<double> part(0.0, 1.0);
    for (int i = 0; i < 25; ++i) {
        const double outer = (1.0 + 7.0 * part(draw)) * 1e-3;
        const double inner = i % 3 == 0 ? 0.0 : 0.9 * outer * part(draw);
        const double z = (4.0 + 60.0 * part(draw)) * 1e-3;
        // On the rim, a hair beside it, and anywhere.
        const double r = i % 5 == 0   ? outer
                         : i % 5 == 1 ? outer * (1.0 + 1e-3 * (part(draw) - 0.5))
                                      : 30e-3 * part(draw);
        const Complex gamma(10.0 * part(draw), 2.0 * pi * (1.0 + 4.0 * part(draw)) * 1e6 / speed);
        const double plane_wave = std::exp(-gamma.real() * z) / std::abs(gamma);
        const Complex expected = rayleigh_integral(inner, outer, r, z, gamma);
        EXPECT_LT(std::abs(ring_response(inner, outer, r, z, gamma) - expected), 1e-8 * plane_wave)
            << inner << ' ' << outer << ' ' << r << ' ' << z;
    }
}

/// What the engine uses: as few terms as a tolerance allows, at any frequency up to the highest.
TEST(RingResponse, TermsKeepTheirTolerance) {
    std::mt19937 draw(11);
    std::uniform_real_distribution<double> part(0.0, 1.0);
    const double highest = 2.0 * pi * 8e6 / speed;
    RingTerms terms;
    for (int i = 0; i < 400; ++i) {
        const double outer = (1.0 + 9.0 * part(draw)) * 1e-3;
        const double inner = i % 3 == 0 ? 0.0 : 0.9 * outer * part(draw);
        const double z = (3.0 + 90.0 * part(draw) * part(draw)) * 1e-3;
        const double r =
            i % 2 == 0 ? outer * (1.0 + (part(draw) - 0.5) * std::pow(10.0, -4.0 * part(draw))) : 60e-3 * part(draw);
        ring_terms(inner, outer, r, z, highest, 1e-5, terms);
        for (const double share : {0.1, 0.5, 1.0}) {
            const Complex gamma(0.0, share * highest);
            Complex sum;
            for (const WaveTerm& wave : terms.plain) {
                sum += wave.weight * std::exp(-gamma * wave.path_m);
            }
            for (const WaveTerm& wave : terms.by_gamma) {
                sum += gamma * wave.weight * std::exp(-gamma * wave.path_m);
            }
            EXPECT_LT(std::abs(sum / gamma - ring_response(inner, outer, r, z, gamma)) * std::abs(gamma), 3e-5)
                << inner << ' ' << outer << ' ' << r << ' ' << z;
        }
    }
}

TEST(WaveSpectrum, EqualsThePlainSum) {
    std::mt19937 draw(3);
    std::uniform_real_distribution<double> part(-1.0, 1.0);
    for (const std::size_t waves : {1U, 15U, 16U, 64U, 131U}) {
        constexpr std::size_t bins = 150;
        WaveBatch batch;
        std::vector<Complex> expected(bins);
        for (std::size_t i = 0; i < waves; ++i) {
            const double amplitude = part(draw);
            const double first = 40.0;
            const double step = 3.0 * part(draw);
            const double exponent = -0.01 * (1.0 + part(draw));
            batch.add(amplitude, first, step, exponent);
            for (std::size_t k = 0; k < bins; ++k) {
                const auto n = static_cast<double>(k);
                expected[k] += std::polar(amplitude * std::exp((first + n) * exponent), -2.0 * pi * (first + n) * step);
            }
        }
        batch.pad();
        WaveScratch scratch;
        std::vector<float> real(bins);
        std::vector<float> imaginary(bins);
        wave_spectrum(batch, scratch, real, imaginary);
        for (std::size_t k = 0; k < bins; ++k) {
            // Float recurrences: a few rounding errors a step.
            EXPECT_NEAR(real[k], expected[k].real(), 2e-5 * static_cast<double>(waves)) << waves << ' ' << k;
            EXPECT_NEAR(imaginary[k], expected[k].imag(), 2e-5 * static_cast<double>(waves)) << waves << ' ' << k;
        }
    }
}

}  // namespace
}  // namespace echoloom
