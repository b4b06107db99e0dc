/// Delay-and-sum is linear; its adjoint, written here from the definition alone, spreads an image back into channels.
/// <spread m, d> = <m, sum d> survives no wrong sign, index, weight or rounding.

#include <gtest/gtest.h>

#include <cmath>

#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

constexpr double c = 1540.0;
constexpr std::size_t receivers = 32;

/// Receive path to an element for a sample at depth r below the origin o, straight down.
double receive_path(const Recipe& recipe, double r, double element_x) {
    double focus = r;
    if (recipe.focus == FocusMode::fixed) {
        focus = recipe.focus_depths_m[0];
    } else if (recipe.focus == FocusMode::zones) {
        focus = recipe.focus_depths_m[0];
        for (const double depth : recipe.focus_depths_m) {
            if (std::abs(depth - r) < std::abs(focus - r)) {
                focus = depth;
            }
        }
    }
    return r + std::hypot(focus, element_x) - focus;
}

/// Two neighbours share a sample as linear interpolation would read it, at the stated rounding of 1/512 sample.
void spread(std::vector<double>& trace, double time_s, double value) {
    const double position = std::round(time_s * 40e6 * 512.0) / 512.0;
    const double whole = std::floor(position);
    const double fraction = position - whole;
    trace[static_cast<std::size_t>(whole)] += (1.0 - fraction) * value;
    trace[static_cast<std::size_t>(whole) + 1] += fraction * value;
}

TEST(Adjoint, OfLinesHoldsForEveryFocusMode) {
    Synthetic recording =
        line_recording(flat_probe(64, 0.3e-3, 5e6, 0.6), {Vec3(-1.2e-3, 0, 0), Vec3(0, 0, 0), Vec3(2.4e-3, 0, 0)},
                       Vec3::UnitZ(), static_cast<int>(receivers), 1800);
    const std::size_t samples = recording.info.samples;
    for (std::size_t e = 0; e < 3; ++e) {
        for (std::size_t i = 0; i < receivers * samples; ++i) {
            recording.samples[e][i] = static_cast<float>(noise(500000 * e + i));
        }
    }
    Recipe recipe;
    recipe.interpolation = Interpolation::linear;
    recipe.high_pass_Hz = 0.0;
    recipe.min_depth_m = 4e-3;
    recipe.max_depth_m = 32e-3;
    for (const auto focus : {FocusMode::dynamic, FocusMode::fixed, FocusMode::zones}) {
        SCOPED_TRACE(static_cast<int>(focus));
        recipe.focus = focus;
        recipe.focus_depths_m = {};
        if (focus == FocusMode::fixed) {
            recipe.focus_depths_m = {20e-3};
        } else if (focus == FocusMode::zones) {
            recipe.focus_depths_m = {10e-3, 17e-3, 25e-3};
        }
        const Beamformed summed = beamform(recording.info, recording.reader(), recipe);
        const auto& depth_m = std::get<LineGrid>(summed.grid).depth_m;
        double image_side = 0.0;
        double channel_side = 0.0;
        for (std::size_t line = 0; line < 3; ++line) {
            const TransmitEvent& event = recording.info.events[line];
            for (std::size_t channel = 0; channel < receivers; ++channel) {
                const int element = event.receivers[channel];
                const double offset =
                    recording.info.probe.elements[static_cast<std::size_t>(element)].center_m.x() - event.origin_m.x();
                std::vector<double> trace(samples, 0.0);
                for (std::size_t d = 0; d < depth_m.size(); ++d) {
                    const double path = depth_m[d] + receive_path(recipe, depth_m[d], offset);
                    spread(trace, path / c, noise(line * 100000 + d) / static_cast<double>(receivers));
                }
                for (std::size_t n = 0; n < samples; ++n) {
                    channel_side += trace[n] * static_cast<double>(recording.samples[line][channel * samples + n]);
                }
            }
            for (std::size_t d = 0; d < depth_m.size(); ++d) {
                image_side += noise(line * 100000 + d) * static_cast<double>(summed.real[line * summed.depths + d]);
            }
        }
        EXPECT_NEAR(image_side / channel_side, 1.0, 1e-5);
    }
}

}  // namespace
}  // namespace echoloom
