/// Scan lines from recordings whose echoes are pure delays.

#include <gtest/gtest.h>
#include <omp.h>

#include <cmath>
#include <numeric>

#include "recon/image/image.h"
#include "tests/base/message.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

constexpr double c = 1540.0;
constexpr double pitch = 0.3e-3;

/// Lines straight down, one per x, over an array of 96 elements of which 64 receive unless said otherwise.
Synthetic straight_lines(const std::vector<double>& x_m, std::size_t samples, double bandwidth = 0.6,
                         int receivers = 64) {
    std::vector<Vec3> origins;
    for (const double x : x_m) {
        origins.emplace_back(x, 0.0, 0.0);
    }
    return line_recording(flat_probe(96, pitch, 5e6, bandwidth), origins, Vec3::UnitZ(), receivers, samples);
}

std::vector<double> column(const Image& image, std::size_t index) {
    const auto begin = image.envelope.begin() + static_cast<std::ptrdiff_t>(index * image.depths);
    return {begin, begin + static_cast<std::ptrdiff_t>(image.depths)};
}

const std::vector<double>& depths_of(const Image& image) {
    return std::get<LineGrid>(image.grid).depth_m;
}

/// Place and height of the highest point of a line's envelope.
struct Peak {
    double depth_m, level;
};

Peak peak_of(const Image& image, std::size_t index) {
    const auto curve = column(image, index);
    const auto& depth = depths_of(image);
    return {depth[0] + peak_place(curve) * (depth[1] - depth[0]), peak_height(curve)};
}

Image image_of(const Synthetic& recording, const Recipe& recipe) {
    return form_image(beamform(recording.info, recording.reader(), recipe), recipe, recording.info);
}

/// A point on the line itself: its transmit path is its depth, as the scan promises.
void add_point_on_line(Synthetic& recording, double x_m, double depth_m) {
    add_echo(recording, Vec3(x_m, 0.0, depth_m), 1.0, [&](const TransmitEvent&) { return depth_m; });
}

/// Echoes whole: the default's high-pass takes 0.05 % of their height.
Recipe uncut() {
    Recipe recipe;
    recipe.high_pass_Hz = 0.0;
    return recipe;
}

TEST(Lines, EachFocusModePutsAPointAtItsPlaceAndFullHeightAtItsFocus) {
    Recipe fixed = uncut();
    fixed.focus = FocusMode::fixed;
    fixed.focus_depths_m = {30.37e-3};
    Recipe zones = uncut();
    zones.focus = FocusMode::zones;
    zones.focus_depths_m = {15e-3, 30.37e-3, 55e-3};
    for (const double x : {0.0, 0.15e-3, 3.07e-3}) {
        Synthetic recording = straight_lines({x}, 2400);
        add_point_on_line(recording, x, 30.37e-3);
        for (const Recipe& recipe : {uncut(), fixed, zones}) {
            SCOPED_TRACE(static_cast<int>(recipe.focus));
            const Peak peak = peak_of(image_of(recording, recipe), 0);
            const double step = 0.5 * c / 40e6;
            EXPECT_NEAR(peak.depth_m, 30.37e-3, 0.01 * step);
            EXPECT_NEAR(peak.level, 1.0, 1e-3);
        }
    }
}

TEST(Lines, AFixedFocusLosesHeightAwayFromItsDepthAndADynamicOneDoesNot) {
    Synthetic recording = straight_lines({0.0}, 2400);
    add_point_on_line(recording, 0.0, 15e-3);
    Recipe fixed;
    fixed.focus = FocusMode::fixed;
    fixed.focus_depths_m = {30e-3};
    Recipe zones;
    zones.focus = FocusMode::zones;
    zones.focus_depths_m = {15e-3, 30e-3};
    EXPECT_LT(peak_of(image_of(recording, fixed), 0).level, 0.5);
    EXPECT_NEAR(peak_of(image_of(recording, zones), 0).level, 1.0, 2e-3);
    EXPECT_NEAR(peak_of(image_of(recording, Recipe{}), 0).level, 1.0, 1e-3);
}

TEST(Lines, ZonesSwitchAtTheMidpointsBetweenTheirDepths) {
    Synthetic recording = straight_lines({0.0}, 2400);
    for (std::size_t i = 0; i < recording.samples[0].size(); ++i) {
        recording.samples[0][i] = static_cast<float>(noise(i));
    }
    Recipe zones;
    zones.focus = FocusMode::zones;
    zones.focus_depths_m = {20e-3, 30e-3};
    Recipe fixed;
    fixed.focus = FocusMode::fixed;
    const auto rf = [&](const Recipe& recipe) { return beamform(recording.info, recording.reader(), recipe); };
    const Beamformed both = rf(zones);
    fixed.focus_depths_m = {20e-3};
    fixed.max_depth_m = std::get<LineGrid>(both.grid).depth_m.back();
    const Beamformed upper = rf(fixed);
    fixed.focus_depths_m = {30e-3};
    const Beamformed lower = rf(fixed);
    for (std::size_t d = 0; d < both.depths; ++d) {
        const double depth = std::get<LineGrid>(both.grid).depth_m[d];
        EXPECT_EQ(both.real[d], depth <= 25e-3 ? upper.real[d] : lower.real[d]) << depth;
    }
}

/// Steered lines: depth is counted along the line.
TEST(Lines, ASteeredLineFindsAPointAlongItself) {
    const double angle = 0.25;
    const Vec3 direction(std::sin(angle), 0.0, std::cos(angle));
    Synthetic recording = line_recording(flat_probe(96, pitch, 5e6, 0.6), {Vec3(-1e-3, 0.0, 0.0)}, direction, 64, 2400);
    add_echo(recording, Vec3(-1e-3, 0.0, 0.0) + 28e-3 * direction, 1.0, [](const TransmitEvent&) { return 28e-3; });
    const Peak peak = peak_of(image_of(recording, uncut()), 0);
    EXPECT_NEAR(peak.depth_m, 28e-3, 0.01 * 0.5 * c / 40e6);
    EXPECT_NEAR(peak.level, 1.0, 1e-3);
}

TEST(Lines, TheTimeOfSampleZeroCounts) {
    Synthetic recording = straight_lines({0.0}, 1200);
    recording.info.events[0].start_time_s = 20.0123e-6;
    add_point_on_line(recording, 0.0, 25e-3);
    const Image image = image_of(recording, Recipe{});
    EXPECT_NEAR(peak_of(image, 0).depth_m, 25e-3, 0.01 * 0.5 * c / 40e6);
    EXPECT_NEAR(depths_of(image).front(), 0.5 * c * 20.0123e-6, 1e-12);
}

TEST(Lines, WeightsOfEachDepthSumToOneWhateverTheApertureUnlessAskedNotTo) {
    Synthetic recording = straight_lines({0.0}, 3200);
    const std::vector<double> depths{8e-3, 16e-3, 24e-3, 32e-3, 40e-3, 50e-3};
    for (const double depth : depths) {
        add_point_on_line(recording, 0.0, depth);
    }
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 2.0;
    recipe.window.kind = WindowKind::hann;
    const auto levels = [&] {
        const Image image = image_of(recording, recipe);
        std::vector<double> found;
        for (const double depth : depths) {
            const auto& axis = depths_of(image);
            const auto at = static_cast<std::size_t>((depth - axis[0]) / (axis[1] - axis[0]));
            const auto curve = column(image, 0);
            found.push_back(std::max({curve[at - 1], curve[at], curve[at + 1], curve[at + 2]}));
        }
        return found;
    };
    for (const double level : levels()) {
        EXPECT_NEAR(level, 1.0, 5e-3);
    }
    // Not normalised, a Hann window adds up to half the elements it spans.
    recipe.normalize_depth = false;
    const auto plain = levels();
    for (std::size_t i = 0; i < depths.size(); ++i) {
        const double elements = std::min(64.0, depths[i] / 2.0 / pitch);
        EXPECT_NEAR(plain[i] / (0.5 * elements), 1.0, 1e-2);
    }
}

/// One-way lateral width at half amplitude: 1.2067 lambda F# (G. S. Kino, Acoustic Waves, 1987, ch. 3, from memory),
/// for 64 points with exact distances 1.2116 at F# 4.17, 1.2258 at 2.08 (recomputed by
/// tests/published/recompute_arrays.py; a pulse of 60 % takes 0.7 % off). The transmit path is the same for all lines,
/// so that receive focusing alone acts.
TEST(Lines, OneWayLateralWidthIsThePublishedOne) {
    struct Case {
        double depth, constant, bandwidth, tolerance;
    };
    for (const auto& [depth, constant, bandwidth, tolerance] :
         {Case{80e-3, 1.2116, 0.08, 0.004}, Case{40e-3, 1.2258, 0.08, 0.004}, Case{40e-3, 1.2258, 0.6, 0.03}}) {
        SCOPED_TRACE(depth);
        std::vector<double> x;
        const double step = 0.06e-3;
        for (int i = -20; i <= 20; ++i) {
            x.push_back(i * step);
        }
        // Two channels to spare, so that an aperture centred anywhere between two elements is whole.
        Synthetic recording = straight_lines(x, 4600, bandwidth, 66);
        add_echo(recording, Vec3(0.0, 0.0, depth), 1.0, [depth = depth](const TransmitEvent&) { return depth; });
        Recipe recipe;
        recipe.max_elements = 64;
        recipe.min_depth_m = depth - 4e-3;
        recipe.max_depth_m = depth + 4e-3;
        const Image image = image_of(recording, recipe);
        const auto row = static_cast<std::size_t>(std::lround(4e-3 / (0.5 * c / 40e6)));
        std::vector<double> profile;
        for (std::size_t i = 0; i < x.size(); ++i) {
            profile.push_back(column(image, i)[row]);
        }
        const double wavelength = c / 5e6;
        const double f_number = depth / (64 * pitch);
        const double width = width_at(profile, 0.5) * step / (wavelength * f_number);
        std::printf("one-way width at F/%.2f, bandwidth %.2f: %.4f lambda F#\n", f_number, bandwidth, width);
        EXPECT_NEAR(width / constant, 1.0, tolerance);
    }
}

/// Axial half-amplitude width 0.441271 lambda / B (time-bandwidth product of a Gaussian, halved for the way there and
/// back; recomputed by tests/published/recompute_pulse.py), with few elements: echoes to the rim of a wide aperture
/// stretch the axis by the mean of 2 / (1 + cos).
TEST(Lines, AxialWidthIsThePublishedOne) {
    Synthetic recording = straight_lines({0.0}, 2400);
    add_point_on_line(recording, 0.0, 30e-3);
    Recipe recipe;
    recipe.max_elements = 8;
    recipe.min_depth_m = 28e-3;
    recipe.max_depth_m = 32e-3;
    recipe.depth_step_m = 5e-6;
    const Image image = image_of(recording, recipe);
    const auto& depth = depths_of(image);
    const double width = width_at(column(image, 0), 0.5) * (depth[1] - depth[0]);
    EXPECT_NEAR(width / (0.441271 * (c / 5e6) / 0.6), 1.0, 2e-3);
}

/// Depth shown = true depth x assumed / true speed (echo ranging itself): 1.040541, 1.026667, 0.962500, recomputed by
/// tests/published/recompute_timing.py.
TEST(Lines, AWrongSoundSpeedShiftsRangeByThePublishedFactor) {
    for (const auto& [speed, factor] : {std::pair{1480.0, 1.040541}, {1500.0, 1.026667}, {1600.0, 0.962500}}) {
        Synthetic recording = straight_lines({0.0}, 3200);
        recording.info.medium.sound_speed_m_s = speed;
        add_point_on_line(recording, 0.0, 50e-3);
        Recipe recipe;
        recipe.max_elements = 8;
        EXPECT_NEAR(peak_of(image_of(recording, recipe), 0).depth_m, 50e-3, 1e-6);
        recipe.sound_speed_m_s = 1540.0;
        const Image image = image_of(recording, recipe);
        EXPECT_NEAR(peak_of(image, 0).depth_m / 50e-3 / factor, 1.0, 1e-3);
        EXPECT_EQ(image.sound_speed_m_s, 1540.0);
    }
}

TEST(Lines, DefaultDepthsEndWhereTheWholeApertureWasRecorded) {
    const Synthetic recording = straight_lines({0.0}, 2400);
    const Beamformed lines = beamform(recording.info, recording.reader(), Recipe{});
    const auto& depth = std::get<LineGrid>(lines.grid).depth_m;
    const double step = 0.5 * c / 40e6;
    EXPECT_EQ(depth.front(), 0.0);
    EXPECT_NEAR(depth[1], step, 1e-12);
    const double half = 31.5 * pitch;
    const auto path = [&](double z) { return z + std::hypot(z, half); };
    EXPECT_LE(path(depth.back()), c * 2399 / 40e6);
    EXPECT_GT(path(depth.back() + step), c * 2399 / 40e6);
}

TEST(Lines, TheSameBitsOnAnyNumberOfThreads) {
    Synthetic recording = straight_lines({-3e-3, 0.0, 0.1e-3}, 1500);
    for (std::size_t e = 0; e < recording.samples.size(); ++e) {
        for (std::size_t i = 0; i < recording.samples[e].size(); ++i) {
            recording.samples[e][i] = static_cast<float>(noise(100000 * e + i));
        }
    }
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 1.0;
    recipe.window.kind = WindowKind::hamming;
    const int threads_before = omp_get_max_threads();
    std::vector<Image> images;
    for (const int threads : {1, 2, 3}) {
        omp_set_num_threads(threads);
        images.push_back(image_of(recording, recipe));
    }
    omp_set_num_threads(threads_before);
    EXPECT_EQ(images[0].envelope, images[1].envelope);
    EXPECT_EQ(images[0].envelope, images[2].envelope);
}

TEST(Lines, EventsOfOneLineAreAveragedAndLinesComeInOrder) {
    Synthetic recording = straight_lines({1e-3, -1e-3, 1e-3}, 1500);
    recording.info.events[0].line = 7;
    recording.info.events[1].line = 3;
    recording.info.events[2].line = 7;
    for (std::size_t i = 0; i < recording.samples[0].size(); ++i) {
        recording.samples[0][i] = static_cast<float>(noise(i));
        recording.samples[1][i] = static_cast<float>(noise(i + 1000000));
        recording.samples[2][i] = 3.0F * recording.samples[0][i];
    }
    const Beamformed lines = beamform(recording.info, recording.reader(), Recipe{});
    ASSERT_EQ(lines.columns, 2U);
    EXPECT_EQ(std::get<LineGrid>(lines.grid).origin_m[0].x(), -1e-3);
    recording.info.events.resize(1);
    Recipe same_depths;
    same_depths.max_depth_m = std::get<LineGrid>(lines.grid).depth_m.back();
    const Beamformed once = beamform(recording.info, recording.reader(), same_depths);
    for (std::size_t d = 0; d < once.depths; ++d) {
        EXPECT_NEAR(lines.real[lines.depths + d], 2.0F * once.real[d], 1e-5);
    }
}

TEST(Lines, RecipesAndRecordingsThatDoNotFitAreRefused) {
    const Synthetic recording = straight_lines({0.0, 1e-3}, 1500);
    const auto error_of = [](const Synthetic& of, const std::string& text) {
        const Recipe recipe = read_recipe(Settings::from_text(text, "r.toml"));
        return message_of([&] { beamform(of.info, of.reader(), recipe); });
    };
    const auto expect = [&](const std::string& text, const std::string& start, const std::string& remedy) {
        const std::string message = error_of(recording, text);
        EXPECT_EQ(message.substr(0, start.size()), start) << message;
        EXPECT_NE(message.find(remedy), std::string::npos) << message;
    };
    expect("[grid]\nx_mm = [-1, 1]", "2 r.toml:2: grid.x_mm: is for images of pixels", "remove the key");
    expect("[grid]\nx_step_mm = 1", "2 r.toml:2: grid.x_step_mm: ", "remove the key");
    expect("[transmit]\nweights = \"as_receive\"", "2 r.toml:2: transmit.weights: ", "remove the key");
    expect("[transmit]\nangle_window = \"hann\"", "2 r.toml:2: transmit.angle_window: ", "remove the key");
    expect("[grid]\ndepth_mm = 100", "2 r.toml:2: grid.depth_mm: the recording ends at 28.8", "ask for that or less");
    expect("[grid]\nmin_depth_mm = 30", "2 r.toml:2: grid.min_depth_mm: leaves no depth", "covers 0 to");
    // RF turns twice a wavelength; two samples a turn at 5 MHz x 1.6: 1540 / (4 x 8 MHz) = 0.048125 mm.
    expect("[grid]\ndepth_step_mm = 0.1", "2 r.toml:2: grid.depth_step_mm: 0.1 mm is too coarse", "at most 0.048125");
    expect("[grid]\ndepth_step_mm = 1e-9", "2 r.toml:2: grid.depth_step_mm: asks for an image of", "coarser step");

    Synthetic mixed = recording;
    mixed.info.events[1].kind = TransmitKind::plane;
    EXPECT_NE(error_of(mixed, "").find("mixes focused and plane events"), std::string::npos);
    Synthetic clash = recording;
    clash.info.events[1].line = 0;
    EXPECT_NE(error_of(clash, "").find("both serve line 0 but differ"), std::string::npos);
    Synthetic empty = recording;
    empty.info.events.clear();
    EXPECT_NE(error_of(empty, "").find("holds no echoes"), std::string::npos);
}

}  // namespace
}  // namespace echoloom
