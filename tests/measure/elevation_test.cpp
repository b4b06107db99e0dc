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

TEST(Elevation, AWireIsTheSumOfItsPoints) {
    const Probe probe = lens_probe();
    for (const double distance : {15e-3, 45e-3, 120e-3}) {
        for (const double frequency : {2e6, 5e6, 7e6}) {
            for (const double length : {10e-3, 20e-3}) {
                Complex sum = 0.0;
                constexpr int parts = 1000;
                for (int n = 0; n < parts; ++n) {
                    const double y = length * ((n + 0.5) / parts - 0.5);
                    sum += length / parts * std::pow(point_elevation(probe, speed, frequency, distance, y), 2);
                }
                const Complex wire = wire_elevation(probe, speed, frequency, distance, length);
                EXPECT_LT(std::abs(wire - sum) / std::abs(sum), 0.02)
                    << distance << " m, " << frequency << " Hz, wire of " << length << " m";
            }
        }
    }
}

TEST(Elevation, TheTableFollowsItsFunctions) {
    const Probe probe = lens_probe();
    Medium medium;
    medium.attenuation_dB_cm_MHz = 0.5;
    const Frequencies frequencies{1e6, 1e6, 8};
    const ElevationTable point(probe, medium, 0.0, {}, frequencies, 20e-3, 30e-3);
    const ElevationTable wire(probe, medium, 20e-3, {}, frequencies, 20e-3, 30e-3);
    for (const double distance : {20e-3, 23.456e-3, 30e-3}) {
        for (std::size_t n = 0; n < frequencies.count; ++n) {
            const double f = frequencies.at(n);
            const double loss = std::exp(-medium.attenuation_Np_m(f) * distance);
            EXPECT_LT(std::abs(point.at(distance).at(n) - loss * point_elevation(probe, speed, f, distance)),
                      2e-3 * loss);
            const Complex both = loss * loss * wire_elevation(probe, speed, f, distance, 20e-3);
            EXPECT_LT(std::abs(std::pow(wire.at(distance).at(n), 2) - both), 5e-3 * std::abs(both));
        }
    }
}

}  // namespace
}  // namespace echoloom
