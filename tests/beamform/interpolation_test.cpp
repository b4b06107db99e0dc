/// What each choice of interpolation costs: RF lines formed by the program against lines formed here in double
/// precision from the same samples by exact band-limited interpolation (a full sinc sum over the whole trace).

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

/// Shannon's sum over all samples; at whole positions the sample itself.
double sinc_interpolated(std::span<const float> trace, double position) {
    const double whole = std::round(position);
    if (std::abs(position - whole) < 1e-12) {
        return trace[static_cast<std::size_t>(whole)];
    }
    double sum = 0.0;
    double sign = 1.0;
    for (std::size_t n = 0; n < trace.size(); ++n, sign = -sign) {
        sum += sign * static_cast<double>(trace[n]) / (position - static_cast<double>(n));
    }
    return std::sin(std::numbers::pi * position) / std::numbers::pi * sum;
}

Synthetic scattered_echoes(double center_Hz) {
    const Probe probe = flat_probe(16, 0.3e-3, center_Hz, 0.6);
    Synthetic recording = line_recording(probe, {Vec3::Zero()}, Vec3::UnitZ(), 16, 1400);
    for (std::uint64_t i = 0; i < 60; ++i) {
        const Vec3 point(noise(3 * i) * 3e-3, 0.0, (13.0 + noise(3 * i + 1) * 9.0) * 1e-3);
        add_echo(recording, point, noise(3 * i + 2), [&](const TransmitEvent&) { return point.norm(); });
    }
    return recording;
}

/// Relative L2 error of one line.
double error_of(const Synthetic& recording, Interpolation interpolation) {
    Recipe recipe;
    recipe.interpolation = interpolation;
    recipe.high_pass_Hz = 0.0;
    recipe.min_depth_m = 3e-3;
    recipe.max_depth_m = 23e-3;
    const Beamformed line = beamform(recording.info, recording.reader(), recipe);
    const auto& depth_m = std::get<LineGrid>(line.grid).depth_m;
    double difference = 0.0;
    double reference = 0.0;
    for (std::size_t d = 0; d < line.depths; ++d) {
        double exact = 0.0;
        for (std::size_t channel = 0; channel < 16; ++channel) {
            const Vec3& element = recording.info.probe.elements[channel].center_m;
            const double path = depth_m[d] + (Vec3(0.0, 0.0, depth_m[d]) - element).norm();
            const auto trace =
                std::span(recording.samples[0]).subspan(channel * recording.info.samples, recording.info.samples);
            exact += sinc_interpolated(trace, path / 1540.0 * 40e6) / 16.0;
        }
        difference += std::pow(line.real[d] - exact, 2);
        reference += exact * exact;
    }
    return std::sqrt(difference / reference);
}

TEST(Interpolation, ErrorsAreThoseStatedInTheRecipeHeader) {
    struct Stated {
        Interpolation interpolation;
        const char* name;
        double at_5_MHz, at_7_MHz;
    };
    for (const auto& [interpolation, name, at_5, at_7] :
         {Stated{Interpolation::linear, "linear", 0.052, 0.090}, Stated{Interpolation::cubic, "cubic", 0.0071, 0.022},
          Stated{Interpolation::upsampled, "upsampled", 0.00055, 0.0017}}) {
        const double error_5 = error_of(scattered_echoes(5e6), interpolation);
        const double error_7 = error_of(scattered_echoes(7e6), interpolation);
        std::printf("interpolation %-9s  5 MHz %.3f %%  7 MHz %.3f %%\n", name, 100.0 * error_5, 100.0 * error_7);
        EXPECT_NEAR(error_5 / at_5, 1.0, 0.05) << name;
        EXPECT_NEAR(error_7 / at_7, 1.0, 0.05) << name;
    }
}

TEST(Interpolation, TheDefaultStaysUnderOnePercent) {
    EXPECT_EQ(Recipe{}.interpolation, Interpolation::upsampled);
    EXPECT_LT(error_of(scattered_echoes(5e6), Recipe{}.interpolation), 0.01);
    EXPECT_LT(error_of(scattered_echoes(7e6), Recipe{}.interpolation), 0.01);
}

}  // namespace
}  // namespace echoloom
