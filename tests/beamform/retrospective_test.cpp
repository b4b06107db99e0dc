/// Retrospective transmit focus: the virtual-source path, and what it gains away from the transmit focus.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>

#include "recon/beamform/focus_cone.h"
#include "recon/image/image.h"
#include "tests/base/message.h"
#include "tests/beamform/same_on_threads.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

constexpr double c = 1540.0;
constexpr double pitch = 0.3e-3;
constexpr double wavelength = c / 5e6;

/// Lines straight down, every pitch over 64 elements, F/2.5 at the focus.
Synthetic lines_focused_at(double focus_m, std::size_t samples) {
    std::vector<FocusedLine> lines;
    for (int i = -24; i <= 24; ++i) {
        lines.push_back({Vec3(i * pitch, 0.0, 0.0), Vec3::UnitZ(), focus_m, 0.2 * focus_m});
    }
    return focused_recording(flat_probe(64, pitch, 5e6, 0.6), lines, samples);
}

Recipe around_depth(double depth_m, TransmitFocus focus) {
    Recipe recipe;
    recipe.high_pass_Hz = 0.0;
    recipe.transmit_focus = focus;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 4.0;  // a receive beam wide enough for the transmit beam to show
    recipe.min_depth_m = depth_m - 1.5e-3;
    recipe.max_depth_m = depth_m + 1.5e-3;
    return recipe;
}

struct Spot {
    double width_m, level, depth_m, x_m;
};

/// Lateral half-amplitude width, height and place of the spot's greatest value.
Spot spot_of(const Synthetic& recording, const Recipe& recipe) {
    const Image image = form_image(beamform(recording.info, recording.reader(), recipe), recipe, recording.info);
    const auto& grid = std::get<LineGrid>(image.grid);
    const auto top = std::ranges::max_element(image.envelope) - image.envelope.begin();
    const auto depth = static_cast<std::size_t>(top) % image.depths;
    std::vector<double> row;
    for (std::size_t column = 0; column < image.columns; ++column) {
        row.push_back(image.envelope[column * image.depths + depth]);
    }
    return {width_at(row, 0.5) * pitch, *std::ranges::max_element(row), grid.depth_m[depth],
            grid.origin_m[0].x() + peak_place(row) * pitch};
}

TEST(Retrospective, SharpensAndRaisesPointsAwayFromTheFocusAndLeavesThoseAtIt) {
    struct Case {
        double depth_m, max_width_ratio, min_level_ratio;
    };
    for (const auto& [depth, width_ratio, level_ratio] :
         {Case{11e-3, 0.8, 3.0}, Case{22e-3, 1.15, 1.0}, Case{36e-3, 0.8, 3.0}}) {
        SCOPED_TRACE(depth);
        Synthetic recording = lines_focused_at(22e-3, 2200);
        const Vec3 point(0.6e-3, 0.0, depth);
        add_focused_echo(recording, point);
        const Spot transmitted = spot_of(recording, around_depth(depth, TransmitFocus::as_transmitted));
        Recipe recipe = around_depth(depth, TransmitFocus::retrospective);
        const Spot even = spot_of(recording, recipe);
        recipe.normalize_events = false;
        const Spot summed = spot_of(recording, recipe);
        std::printf(
            "point at %.0f mm, focus at 22 mm: width as transmitted %.3f mm, retrospective %.3f mm; level as "
            "transmitted "
            "%.3f, normalised %.3f, summed %.3f; depth %.3f and %.3f mm\n",
            depth * 1e3, transmitted.width_m * 1e3, even.width_m * 1e3, transmitted.level, even.level, summed.level,
            transmitted.depth_m * 1e3, even.depth_m * 1e3);
        EXPECT_LT(even.width_m, width_ratio * transmitted.width_m);
        EXPECT_GT(summed.level, level_ratio * transmitted.level);
        EXPECT_NEAR(even.x_m, point.x(), 0.05 * even.width_m);
        // A line focus shifts phase by up to a quarter turn (half of a point's: M. Born & E. Wolf, Principles of
        // Optics, sec. 8.8.4, from memory), an eighth of a wavelength in depth.
        EXPECT_NEAR(even.depth_m, depth, wavelength / 8.0 + 0.02e-3);
        if (depth == 22e-3) {
            EXPECT_NEAR(even.width_m / transmitted.width_m, 1.0, 0.15);
            // Neighbours' beams meet the point off their axes.
            EXPECT_NEAR(even.level / transmitted.level, 1.0, 0.2);
        }
    }
}

/// The sum by its definition, with the pulse itself in place of interpolation: (|F - O| -+ |p - F|) / c, made flat
/// within 1.6 lambda F#^2 of the focus (the Rayleigh range of a Gaussian beam as wide, recomputed by
/// tests/published/recompute_arrays.py); Hann weights across the cone.
TEST(Retrospective, EqualsTheDefinitionSampleBySample) {
    const Probe probe = flat_probe(20, pitch, 5e6, 0.6);
    std::vector<FocusedLine> lines;
    for (int i = -3; i <= 3; ++i) {
        const double angle = 0.04 * i;
        lines.push_back({Vec3(2 * i * pitch, 0.0, 0.0), Vec3(std::sin(angle), 0.0, std::cos(angle)), 15e-3, 2.1e-3});
    }
    Synthetic recording = focused_recording(probe, lines, 1200);
    const std::vector<Vec3> points{{0.4e-3, 0.0, 10e-3}, {-1.1e-3, 0.0, 15.2e-3}, {0.2e-3, 0.0, 19e-3}};
    // Echoes are what each event's model says of the points, so that only the sum is in question.
    const auto path = [&](const TransmitEvent& event, const Vec3& p) {
        double first = 1e9;
        double last = -1e9;
        for (std::size_t i = 0; i < 20; ++i) {
            if (event.weight[i] != 0.0) {
                first = std::min(first, probe.elements[i].center_m.x() - 0.5 * pitch);
                last = std::max(last, probe.elements[i].center_m.x() + 0.5 * pitch);
            }
        }
        const Vec3 lateral(event.direction.z(), 0.0, -event.direction.x());
        const auto aside = [&](double x) { return (Vec3(x, 0.0, 0.0) - event.focus_m).dot(lateral); };
        const double f_number = 15e-3 / (aside(last) - aside(first));
        const double zone = 1.6 * wavelength * f_number * f_number;
        const double u = (p - event.focus_m).dot(event.direction);
        const double v = (p - event.focus_m).dot(lateral);
        const auto slope = [&](double x) {
            return aside(x) / (Vec3(x, 0.0, 0.0) - event.focus_m).dot(event.direction);
        };
        const double middle = 0.5 * (slope(first) + slope(last)) * u;
        const double half = std::hypot(0.5 * (slope(first) - slope(last)) * u, wavelength * f_number);
        const double share = (v - middle) / half;
        const double weight = std::abs(share) < 1.0 ? 0.5 + 0.5 * std::cos(std::numbers::pi * share) : 0.0;
        return std::pair(15e-3 + u * std::sqrt(1.0 + v * v / (u * u + zone * zone)), weight);
    };
    for (const Vec3& point : points) {
        add_echo(recording, point, 1.0, [&](const TransmitEvent& event) { return path(event, point).first; });
    }
    Recipe recipe;
    recipe.high_pass_Hz = 0.0;
    recipe.transmit_focus = TransmitFocus::retrospective;
    recipe.min_depth_m = 8e-3;
    recipe.max_depth_m = 20e-3;
    recipe.depth_step_m = 0.1e-3;
    const double sigma_t = 0.374781 / (0.6 * 5e6);  // sqrt(2 ln 2) / (pi B f0), sim/array/pulse.h
    for (const bool normalize : {true, false}) {
        recipe.normalize_events = normalize;
        const Beamformed formed = beamform(recording.info, recording.reader(), recipe);
        ASSERT_EQ(formed.imaginary.size(), formed.real.size());
        const auto& grid = std::get<LineGrid>(formed.grid);
        double difference = 0.0;
        double reference = 0.0;
        for (std::size_t line = 0; line < formed.columns; ++line) {
            for (std::size_t d = 0; d < formed.depths; ++d) {
                const Vec3 pixel = grid.origin_m[line] + grid.depth_m[d] * grid.direction[line];
                std::complex<double> exact = 0.0;
                double sum = 0.0;
                // The constant aperture of 20 elements is centred on the line, so that it runs off the array's end.
                for (const TransmitEvent& event : recording.info.events) {
                    const auto [way, weight] = path(event, pixel);
                    for (const Element& element : probe.elements) {
                        const double offset = std::abs(element.center_m.x() - grid.origin_m[line].x()) / pitch;
                        const double share = std::clamp(10.5 - offset, 0.0, 1.0);
                        sum += weight * share;
                        for (const Vec3& point : points) {
                            const double t = (way + (pixel - element.center_m).norm() - path(event, point).first -
                                              (point - element.center_m).norm()) /
                                             c;
                            exact += weight * share *
                                     std::polar(std::exp(-0.5 * t * t / (sigma_t * sigma_t)),
                                                2.0 * std::numbers::pi * 5e6 * t);
                        }
                    }
                }
                double whole = 0.0;  // of the array's own elements
                for (const Element& element : probe.elements) {
                    whole +=
                        std::clamp(10.5 - std::abs(element.center_m.x() - grid.origin_m[line].x()) / pitch, 0.0, 1.0);
                }
                exact /= normalize ? std::max(sum, 1e-12) : whole;
                const std::size_t at = line * formed.depths + d;
                difference += std::norm(exact - std::complex<double>(formed.real[at], formed.imaginary[at]));
                reference += std::norm(exact);
            }
        }
        const double error = std::sqrt(difference / reference);
        std::printf("retrospective focus against its definition: relative error %.2e\n", error);
        EXPECT_LT(error, 2e-3);
    }
}

TEST(Retrospective, NoStepAtTheFocus) {
    const Synthetic recording = lines_focused_at(22e-3, 100);
    const FocusCone cone(recording.info, 24, c);
    // 1 um on, a path changes by about 1 um and a lateral place in the cone by next to nothing, everywhere.
    for (double x = -0.6e-3; x <= 0.6e-3; x += 0.1e-3) {
        for (double z = 18e-3; z < 26e-3; z += 1e-6) {
            const double change = cone.path_m(Vec3(x, 0, z + 1e-6)) - cone.path_m(Vec3(x, 0, z));
            ASSERT_GT(change, 0.0) << x << ' ' << z;
            ASSERT_LT(change, 1.5e-6) << x << ' ' << z;
        }
    }
    // In the far field it is the plain distance.
    EXPECT_NEAR(cone.path_m(Vec3(1e-3, 0, 60e-3)), 22e-3 + std::hypot(1e-3, 38e-3), 1e-6);
    EXPECT_NEAR(cone.path_m(Vec3(1e-3, 0, 2e-3)), 22e-3 - std::hypot(1e-3, 20e-3), 2e-6);
    // At half the focal depth the cone is half as wide as the aperture, 9 mm, and a little more.
    EXPECT_NEAR(cone.lateral_share(Vec3(1.125e-3, 0, 11e-3)), 0.25, 0.03);
}

TEST(Retrospective, TheSameBitsOnAnyNumberOfThreads) {
    Synthetic recording = lines_focused_at(15e-3, 900);
    for (std::size_t e = 0; e < recording.samples.size(); ++e) {
        // Receivers that change in between end a batch.
        if (e % 10 == 0) {
            std::ranges::reverse(recording.info.events[e].receivers);
        }
        for (std::size_t i = 0; i < recording.samples[e].size(); ++i) {
            recording.samples[e][i] = static_cast<float>(noise(100000 * e + i));
        }
    }
    Recipe recipe = around_depth(12e-3, TransmitFocus::retrospective);
    recipe.max_depth_m = 15e-3;
    expect_same_on_any_threads(recording, recipe);
}

TEST(Retrospective, OtherRecordingsAreRefusedWithWhatToWriteInstead) {
    const Recipe recipe = read_recipe(Settings::from_text("[transmit]\nfocus = \"retrospective\"", "r.toml"));
    const auto error_of = [&](const Synthetic& of) {
        return message_of([&] { beamform(of.info, of.reader(), recipe); });
    };
    const Probe probe = flat_probe(16, pitch, 5e6, 0.6);
    const std::string planes = error_of(plane_wave_recording(probe, {0.0}, 800));
    EXPECT_NE(planes.find("r.toml:2: transmit.focus: this recipe is for focused-line recordings, and this one holds "
                          "plane waves; use e.g. plane_wave_compound"),
              std::string::npos)
        << planes;
    EXPECT_NE(error_of(full_matrix_recording(probe, 800)).find("use e.g. synthetic_focus"), std::string::npos);
    EXPECT_NE(error_of(diverging_recording(probe, {Vec3(0, 0, -5e-3)}, 800)).find("use e.g. diverging_compound"),
              std::string::npos);
    Synthetic blurred = lines_focused_at(15e-3, 800);
    blurred.info.events[3].focus_m = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
    EXPECT_NE(error_of(blurred).find("event 4 of the recording has no focus"), std::string::npos);
    EXPECT_NE(error_of(blurred).find("transmit.focus = \"as_transmitted\""), std::string::npos);
    Synthetic rings = focused_recording(ring_probe(4, 5e-3), {{Vec3::Zero(), Vec3::UnitZ(), 20e-3, 1.0}}, 800);
    EXPECT_NE(error_of(rings).find("r.toml:2: transmit.focus: needs an array at rest"), std::string::npos);
}

}  // namespace
}  // namespace echoloom
