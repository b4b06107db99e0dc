#include "sim/engine/response.h"

#include <gtest/gtest.h>

#include <complex>
#include <numbers>

#include "tests/engine/scenes.h"

namespace echoloom {
namespace {

/// One rigid element of 0.3 by 5 mm without a lens, as in the table below.
Probe single_element() {
    Probe probe;
    probe.center_Hz = 5e6;
    probe.bandwidth_fraction = 0.6;
    probe.pulse = GaussianPulse{5e6, 0.6};
    probe.elements.push_back({});
    probe.elements[0].width_m = 0.3e-3;
    probe.elements[0].height_m = 5e-3;
    return probe;
}

/// H(f) = integral of exp(-j k R) / (2 pi R) dS over the element, as the engine computes it.
std::complex<double> transfer(const Probe& probe, const Vec3& point, double frequency_Hz) {
    const EngineContext context = engine_context(probe, {probe.pulse}, Medium{}, 40e6, 0.1, 1e-7);
    const Scatterer scatterer{point.x(), point.y(), point.z(), 1.0};
    WindowPlan plan = plan_window(context, {&scatterer, 1});
    plan.bin_Hz = 1e6;
    plan.first_bin = 1;
    plan.bins = 6;
    ResponseGrid grid;
    compute_responses(context, context.elements, plan, {&scatterer, 1}, grid);
    const auto bin = static_cast<std::size_t>(std::lround(frequency_Hz / 1e6)) - 1;
    const std::complex<double> relative(static_cast<double>(grid.real[grid.at(bin, 0)]),
                                        static_cast<double>(grid.imaginary[grid.at(bin, 0)]));
    return relative * std::polar(1.0, -2.0 * std::numbers::pi * frequency_Hz * plan.reference_s[0]);
}

void expect_near(const std::complex<double>& got, const std::complex<double>& want) {
    EXPECT_LT(std::abs(got - want) / std::abs(want), 1e-5) << got << " against " << want;
}

// Exact transforms of the rectangle's impulse response: corner decomposition after J. C. Lockwood & J. G. Willette, J.
// Acoust. Soc. Am. 53, 735-741, 1973 (from memory); the numbers recomputed by quadrature in
// tests/published/recompute_pistons.py.
TEST(Response, RectangleMatchesItsClosedForm) {
    const Probe probe = single_element();
    expect_near(transfer(probe, Vec3(0, 0, 20e-3), 1e6), {1.159503295410e-05, -1.515893429294e-06});
    expect_near(transfer(probe, Vec3(0, 0, 20e-3), 5e6), {6.368904912307e-06, -3.776243477463e-06});
    expect_near(transfer(probe, Vec3(0, 0, 2e-3), 5e6), {-1.215879059409e-05, 1.168571641469e-05});
    expect_near(transfer(probe, Vec3(0.15e-3, 2.5e-3, 10e-3), 5e6), {-2.985306279887e-06, 2.257436845894e-06});
    expect_near(transfer(probe, Vec3(5e-3, 0, 20e-3), 5e6), {5.893903694248e-06, -3.263516900126e-06});
}

// Far-field pattern of a strip: sinc(w sin(theta) / lambda), times cos(theta) in a soft baffle. A. R. Selfridge, G. S.
// Kino & B. T. Khuri-Yakub, Appl. Phys. Lett. 37, 35-36, 1980 (from memory); values recomputed at 5 MHz, w = 0.3 mm, by
// tests/published/recompute_pistons.py.
TEST(Response, StripDirectivityRigidAndSoft) {
    const double degrees[] = {10, 30, 60};
    const double rigid[] = {.953602, .653052, .178112};
    const double soft[] = {.939115, .565560, .089056};
    for (const Baffle baffle : {Baffle::rigid, Baffle::soft}) {
        Probe probe = single_element();
        probe.baffle = baffle;
        const double ahead = std::abs(transfer(probe, Vec3(0, 0, 1.0), 5e6));
        for (std::size_t i = 0; i < 3; ++i) {
            const double angle = degrees[i] * std::numbers::pi / 180.0;
            const double side = std::abs(transfer(probe, Vec3(std::sin(angle), 0, std::cos(angle)), 5e6));
            EXPECT_NEAR(side / ahead, baffle == Baffle::rigid ? rigid[i] : soft[i], 2e-5) << degrees[i];
        }
    }
}

TEST(Response, TurnedElementSeesWhatATurnedPointShows) {
    const double angle = 0.4;
    Probe straight = single_element();
    Probe turned = single_element();
    turned.elements[0].normal = Vec3(std::sin(angle), 0.0, std::cos(angle));
    const Vec3 point(4e-3, 1e-3, 15e-3);
    const Vec3 rotated(point.x() * std::cos(angle) + point.z() * std::sin(angle), point.y(),
                       -point.x() * std::sin(angle) + point.z() * std::cos(angle));
    expect_near(transfer(turned, rotated, 5e6), transfer(straight, point, 5e6));
}

}  // namespace
}  // namespace echoloom
