#include "recon/measure/elevation.h"

#include <gtest/gtest.h>

#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

constexpr double speed = 1540.0;

Probe lens_probe() {
    Probe probe = synthetic::line_probe(2, 0.3e-3, 0.27e-3, 5e6, 0.6);
    for (Element& element : probe.elements) element.height_m = 6e-3;
    probe.elevation_focus_m = 45e-3;
    return probe;
}

TEST(Elevation, WidthInTheLensFocus) {
    // published.md, section 15: at the lens focus the half-amplitude width in elevation is 1.2067 lambda F/H one-way,
    // tolerance 3 %.
    const Probe probe = lens_probe();
    const double axis = std::abs(point_elevation(probe, speed, 5e6, 45e-3));
    EXPECT_NEAR(axis, 1.0, 0.01);
    double y = 0.0;
    while (std::abs(point_elevation(probe, speed, 5e6, 45e-3, y)) > 0.5 * axis) y += 1e-6;
    EXPECT_NEAR(2.0 * y, 1.2067 * speed / 5e6 * 45e-3 / 6e-3, 0.03 * 2.0 * y);
}

TEST(Elevation, ALongWireIsTheSumOfItsPoints) {
    const Probe probe = lens_probe();
    for (const double distance : {15e-3, 30e-3, 45e-3, 90e-3}) {
        for (const double frequency : {3e6, 5e6, 7e6}) {
            // The integral of point_elevation squared over 40 mm of wire, Hann-tapered beyond 12 mm so that its ends
            // make no echo of their own.
            const double step = 0.02e-3;
            Complex sum = 0.0;
            for (double y = -20e-3; y <= 20e-3; y += step) {
                const double beyond = std::max(0.0, std::abs(y) - 12e-3) / 8e-3;
                const double taper = std::pow(std::cos(0.5 * std::numbers::pi * beyond), 2);
                sum += step * taper * std::pow(point_elevation(probe, speed, frequency, distance, y), 2);
            }
            const Complex wire = wire_elevation(probe, speed, frequency, distance);
            EXPECT_LT(std::abs(wire - sum) / std::abs(sum), 0.02) << distance << " m, " << frequency << " Hz";
        }
    }
}

TEST(Elevation, TheTableFollowsItsFunctions) {
    const Probe probe = lens_probe();
    Medium medium;
    medium.attenuation_dB_cm_MHz = 0.5;
    const Frequencies frequencies{1e6, 1e6, 8};
    const ElevationTable point(probe, medium, TargetKind::point, {}, frequencies, 20e-3, 30e-3);
    const ElevationTable wire(probe, medium, TargetKind::wire, {}, frequencies, 20e-3, 30e-3);
    for (const double distance : {20e-3, 23.456e-3, 30e-3}) {
        for (std::size_t n = 0; n < frequencies.count; ++n) {
            const double f = frequencies.at(n);
            const double loss = std::exp(-medium.attenuation_Np_m(f) * distance);
            EXPECT_LT(std::abs(point.at(distance).at(n) - loss * point_elevation(probe, speed, f, distance)),
                      2e-3 * loss);
            const Complex both = loss * loss * wire_elevation(probe, speed, f, distance);
            EXPECT_LT(std::abs(std::pow(wire.at(distance).at(n), 2) - both), 5e-3 * std::abs(both));
        }
    }
}

}  // namespace
}  // namespace echoloom
