// The textbook constants. Where a handbook's number and one recomputed by tests/published/ are both known, the
// recomputed one is held to.

#include "recon/measure/theory.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "recon/beamform/event_weights.h"
#include "recon/measure/point_view.h"
#include "recon/measure/prediction.h"
#include "sim/array/face.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

constexpr int many = 4096;

std::vector<double> equal_weights(int count) {
    return std::vector<double>(static_cast<std::size_t>(count), 1.0);
}

TEST(WidthConstant, OfContinuousApertures) {
    // sinc and sinc^2, full widths in lambda F# (any array text, e.g. G. S. Kino, Acoustic Waves, 1987, ch. 3, from
    // memory; recomputed by tests/published/recompute_arrays.py).
    const auto rectangular = equal_weights(many);
    EXPECT_NEAR(width_constant(rectangular, {}, 0.5), 1.206709129, 1e-6);
    EXPECT_NEAR(width_constant(rectangular, rectangular, 0.5), 0.885892941, 1e-6);
    EXPECT_NEAR(width_constant(rectangular, {}, std::sqrt(0.5)), 0.885892941, 1e-6);
    EXPECT_NEAR(width_constant(rectangular, rectangular, std::sqrt(0.5)), 0.637833397, 1e-6);
    EXPECT_NEAR(width_constant(rectangular, rectangular, 0.1), 1.476052869, 1e-6);
    EXPECT_NEAR(width_constant(rectangular, {}, 0.1), 1.815857248 - 0.0, 0.05) << "main lobe; -20 dB exactly is 0.1";
}

TEST(WidthConstant, OfFewElements) {
    // Sums over N point elements, recomputed by tests/published/recompute_arrays.py.
    EXPECT_NEAR(width_constant(equal_weights(32), {}, 0.5), 1.207140, 1e-6);
    EXPECT_NEAR(width_constant(equal_weights(64), {}, 0.5), 1.206817, 1e-6);
    EXPECT_NEAR(width_constant(equal_weights(128), {}, 0.5), 1.206736, 1e-6);
    EXPECT_NEAR(two_way_constant({}, 32), 0.886267, 1e-6);
    EXPECT_NEAR(two_way_constant({}, 64), 0.885986, 1e-6);
    EXPECT_NEAR(two_way_constant({}, 128), 0.885916, 1e-6);
}

struct WindowRow {
    Window window;
    double w6, w3;  ///< one-way and two-way half-amplitude widths, N = 64, element centres
};

TEST(WidthConstant, OfWindows) {
    // Windows of length N p at the element centres; after F. J. Harris, Proc. IEEE 66(1), 51-83, 1978, Table I (rows
    // from memory), recomputed by tests/published/recompute_windows.py.
    const std::vector<WindowRow> rows{{{WindowKind::rectangular, 0.0}, 1.2068, 0.8860},
                                      {{WindowKind::triangle, 0.0}, 1.7714, 1.2754},
                                      {{WindowKind::cosine, 0.0}, 1.6391, 1.1887},
                                      {{WindowKind::hann, 0.0}, 2.0000, 1.4406},
                                      {{WindowKind::hamming, 0.0}, 1.8152, 1.3030},
                                      {{WindowKind::blackman, 0.0}, 2.2988, 1.6437},
                                      {{WindowKind::tukey, 0.25}, 1.3733, 1.0074},
                                      {{WindowKind::tukey, 0.5}, 1.5726, 1.1501},
                                      {{WindowKind::gaussian, 2.5}, 1.9214, 1.3731},
                                      {{WindowKind::gaussian, 3.0}, 2.2592, 1.6041},
                                      {{WindowKind::kaiser, 4.0}, 1.6611, 1.1993},
                                      {{WindowKind::kaiser, 8.0}, 2.2177, 1.5855},
                                      // Dolph-Chebyshev exists for its N elements alone: end points on the outermost.
                                      {{WindowKind::dolph_chebyshev, 60.0}, 2.0460, 1.4639}};
    for (const WindowRow& row : rows) {
        // To the four decimals given.
        EXPECT_NEAR(one_way_constant(row.window, 64), row.w6, 1e-4) << window_name(row.window.kind);
        EXPECT_NEAR(two_way_constant(row.window, 64), row.w3, 1e-4) << window_name(row.window.kind);
    }
}

TEST(WidthConstant, OfMixedApertures) {
    // Products of two windows' transforms in closed form, recomputed by tests/published/recompute_windows.py.
    const auto hann = window_at_centers({WindowKind::hann, 0.0}, many);
    EXPECT_NEAR(width_constant(equal_weights(many), hann, 0.5), 1.0561, 1e-4);
    EXPECT_NEAR(width_constant(hann, hann, 0.5), 1.4406, 1e-4);
}

TEST(AxialTheory, OfAGaussianEcho) {
    // Time-bandwidth product of a Gaussian, halved for the way there and back: 0.441271 lambda/B at one half; one tenth
    // is 1.822616 times that; examples in mm (recomputed by tests/published/recompute_pulse.py).
    const Probe probe = synthetic::line_probe(2, 0.3e-3, 0.27e-3, 5e6, 0.6);
    EXPECT_NEAR(axial_theory_m(probe, 1540.0, 0.5), 0.22652e-3, 0.5e-8);
    EXPECT_NEAR(axial_theory_m(probe, 1540.0, 0.5) * 0.6 / (1540.0 / 5e6), 0.441271, 1e-6);
    EXPECT_NEAR(axial_theory_m(probe, 1540.0, 0.1) / axial_theory_m(probe, 1540.0, 0.5), 1.822616, 1e-6);
    const Probe wide = synthetic::line_probe(2, 0.3e-3, 0.27e-3, 5e6, 0.8);
    EXPECT_NEAR(axial_theory_m(wide, 1540.0, 0.5), 0.16989e-3, 0.5e-8);
}

/// 64 elements, one line down the middle focused at 40 mm.
RecordingInfo line_recording(double steering = 0.0) {
    RecordingInfo info;
    info.probe = synthetic::line_probe(64, 0.3e-3, 0.27e-3, 5e6, 0.6);
    info.channels = 64;
    const Vec3 direction(std::sin(steering), 0.0, std::cos(steering));
    info.events = {synthetic::focused_event(info.probe, Vec3::Zero(), direction, 40e-3, 1540.0)};
    return info;
}

TEST(LateralTheory, IsTheConstantTimesLambdaOverF) {
    const RecordingInfo info = line_recording();
    const double aperture = 64 * 0.3e-3, wavelength = 1540.0 / 5e6;
    Recipe recipe;
    for (const double depth : {10e-3, 40e-3, 100e-3}) {
        EXPECT_NEAR(lateral_theory_m(info, recipe, {0.0, 0.0, depth}, 0.5) / (wavelength * depth / aperture), 0.885986,
                    1e-5);
    }
    // receive window: rectangular out, Hann back
    recipe.window = {WindowKind::hann, 0.0};
    EXPECT_NEAR(lateral_theory_m(info, recipe, {0.0, 0.0, 40e-3}, 0.5) / (wavelength * 40e-3 / aperture), 1.0561, 2e-3);
}

TEST(LateralTheory, AGrowingApertureKeepsItsWidthUntilTheArrayEnds) {
    RecordingInfo info = line_recording();
    // one central element fires: the receive aperture alone makes the beam, 1.2067 lambda F#
    std::fill(info.events.front().weight.begin(), info.events.front().weight.end(), 0.0);
    info.events.front().weight[32] = 1.0;
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 2.0;
    const double wavelength = 1540.0 / 5e6;
    for (const double depth : {12e-3, 24e-3, 36e-3}) {
        EXPECT_NEAR(lateral_theory_m(info, recipe, {0.0, 0.0, depth}, 0.5) / (wavelength * 2.0), 1.2067, 3e-3) << depth;
    }
    const double beyond = 64 * 0.3e-3 * 2.0 * 2.0;  // twice the depth at which the array runs out
    EXPECT_NEAR(lateral_theory_m(info, recipe, {0.0, 0.0, beyond}, 0.5) / (wavelength * 4.0), 1.2067, 3e-3);
}

TEST(LateralTheory, SteeringShortensTheAperture) {
    const double steering = 30.0 * std::numbers::pi / 180.0;
    const RecordingInfo info = line_recording(steering);
    const Vec3 point = 40e-3 * Vec3(std::sin(steering), 0.0, std::cos(steering));
    const double projected = 64 * 0.3e-3 * std::cos(steering);
    EXPECT_NEAR(lateral_theory_m(info, Recipe{}, point, 0.5) / (1540.0 / 5e6 * 40e-3 / projected), 0.885986, 1e-5);
}

// One element on either side makes no beam: theory has no width to give, and says so rather than searching for ever.
TEST(Theory, OneElementHasNoWidth) {
    EXPECT_TRUE(std::isinf(one_way_constant(Window{}, 1)));
    EXPECT_TRUE(std::isinf(two_way_constant(Window{}, 1)));
}

TEST(LateralTheory, OneElementOutAndOneBackHaveNoWidth) {
    RecordingInfo info = line_recording();
    TransmitEvent& event = info.events.front();
    event.origin_m = info.probe.elements[32].center_m;
    std::fill(event.weight.begin(), event.weight.end(), 0.0);
    event.weight[32] = 1.0;
    Recipe recipe;
    recipe.max_elements = 1;
    const Vec3 point(event.origin_m.x(), 0.0, 40e-3);
    EXPECT_TRUE(std::isinf(lateral_theory_m(info, recipe, point, 0.5)));
    recipe.max_elements = 2;
    EXPECT_TRUE(std::isfinite(lateral_theory_m(info, recipe, point, 0.5)));
    event.weight[32] = 0.0;  // nothing transmitted at all
    EXPECT_TRUE(std::isinf(lateral_theory_m(info, recipe, point, 0.5)));
}

// Acquired data may give no pitch; one element then owns its width.
TEST(LateralTheory, AnArrayOfOneElementHasNoWidth) {
    RecordingInfo info;
    info.probe = synthetic::line_probe(1, 0.0, 0.27e-3, 5e6, 0.6);
    info.channels = 1;
    info.events = {synthetic::focused_event(info.probe, Vec3::Zero(), Vec3::UnitZ(), 40e-3, 1540.0)};
    const std::vector<int> receivers{0};
    EXPECT_EQ(receive_weights(info, Recipe{}, receivers, Vec3::Zero(), 40e-3), std::vector<double>{1.0});
    EXPECT_TRUE(std::isinf(lateral_theory_m(info, Recipe{}, {0.0, 0.0, 40e-3}, 0.5)));
}

// The image ranks plane waves by angle: so must theory, in whatever order they were transmitted.
TEST(EventWeights, OfPlaneWavesAreThoseOfTheImageInAnyOrder) {
    RecordingInfo info;
    info.probe = synthetic::line_probe(32, 0.3e-3, 0.27e-3, 5e6, 0.6);
    info.channels = 32;
    Recipe recipe;
    recipe.normalize_depth = false;
    recipe.angle_window = Window{WindowKind::hann, 0.0};
    for (const double degrees : {5.0, -10.0, 0.0, 10.0, -5.0}) {
        const double angle = degrees * std::numbers::pi / 180.0;
        TransmitEvent event =
            synthetic::focused_event(info.probe, Vec3::Zero(), {std::sin(angle), 0.0, std::cos(angle)}, 1.0, 1540.0);
        event.kind = TransmitKind::plane;
        info.events.push_back(event);
    }
    const Vec3 point(0.0, 0.0, 30e-3);
    const auto weights = event_weights(info, recipe, view_of(info, recipe, point), point);
    // Hann at five centres, 0.5 + 0.5 cos(2 pi n / 5), n = -2 to 2: the broadside wave counts most.
    const std::vector<double> expected{0.6545085, 0.0954915, 1.0, 0.0954915, 0.6545085};
    const EventWeights of_image(info, recipe, ScanKind::plane_waves);
    ASSERT_EQ(weights.size(), expected.size());
    for (std::size_t n = 0; n < expected.size(); ++n) {
        EXPECT_NEAR(weights[n], expected[n], 1e-7) << n;
        EXPECT_NEAR(of_image.fixed(n), expected[n], 1e-6) << n;
    }
}

TEST(LateralTheory, SectorLinesBroadenByOneOverTheCosine) {
    // From the middle of one fixed face: D cos(theta) in place of D, so that the width at one range goes as 1/cos.
    const double straight = lateral_theory_m(line_recording(), Recipe{}, {0.0, 0.0, 40e-3}, 0.5);
    for (const double degrees : {20.0, 45.0}) {
        const double angle = degrees * std::numbers::pi / 180.0;
        const Vec3 point = 40e-3 * Vec3(std::sin(angle), 0.0, std::cos(angle));
        EXPECT_NEAR(lateral_theory_m(line_recording(angle), Recipe{}, point, 0.5) / straight, 1.0 / std::cos(angle),
                    1e-6);
        // Summed in full, with a pulse, 64 elements of a wavelength: within a few percent, from the wider elements' own
        // directivity and the near field's.
        const PredictionTerms ideal{.spreading = false, .directivity = false, .elevation = false};
        const auto at = [&](double steering, const Vec3& place) {
            return *predict_point(line_recording(steering), Recipe{}, place, ideal).lateral_6dB.width_m;
        };
        EXPECT_NEAR(at(angle, point) / at(0.0, {0.0, 0.0, 40e-3}) * std::cos(angle), 1.0, 0.06) << degrees;
    }
}

/// Elements on an arc of 50 mm radius, 0.4 mm apart along it; lines along radii, one for each angle.
RecordingInfo curved_recording(std::span<const double> angles) {
    RecordingInfo info;
    info.probe.kind = "curved";
    info.probe.radius_m = 50e-3;
    info.probe.pitch_m = 0.4e-3;
    info.probe.center_Hz = 5e6;
    info.probe.bandwidth_fraction = 0.6;
    info.probe.pulse = GaussianPulse{5e6, 0.6};
    info.probe.elements = curved_face(160, 50e-3, 0.4e-3, 0.36e-3, 5e-3);
    info.channels = 160;
    int line = 0;
    for (const double angle : angles) {
        const FacePlace place = face_place(info.probe, 50e-3 * angle);
        info.events.push_back(
            synthetic::focused_event(info.probe, place.origin_m, place.normal, 40e-3, 1540.0, line++));
        for (std::size_t e = 0; e < info.probe.elements.size(); ++e) {
            const double off = face_lateral_m(info.probe, info.probe.elements[e].center_m) - 50e-3 * angle;
            if (std::abs(off) > 8e-3) info.events.back().weight[e] = 0.0;
        }
    }
    return info;
}

TEST(LateralTheory, OfACurvedArrayIsThatOfItsTurnedSelf) {
    // Lines along radii see the same aperture, so that widths and fan do not depend on the line.
    const std::vector<double> angles{-0.2, -0.096, 0.0, 0.096, 0.2};  // whole elements apart
    const RecordingInfo info = curved_recording(angles);
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 3.0;
    recipe.max_elements = 40;
    const auto point = [](double angle) { return Vec3(90e-3 * std::sin(angle), 0.0, 90e-3 * std::cos(angle) - 50e-3); };
    const double middle = lateral_theory_m(info, recipe, point(0.0), 0.5);
    const double predicted = *predict_point(info, recipe, point(0.0)).lateral_6dB.width_m;
    for (const double angle : angles) {
        const PointView view = view_of(info, recipe, point(angle));
        EXPECT_NEAR(view.depth_m, 40e-3, 1e-9);
        EXPECT_NEAR(view.fan_radius_m, 90e-3, 1e-9);
        EXPECT_NEAR((view.moved_laterally(90e-3 * 0.1) - point(angle + 0.1)).norm(), 0.0, 1e-12);
        EXPECT_NEAR(lateral_theory_m(info, recipe, point(angle), 0.5) / middle, 1.0, 1e-6);
        EXPECT_NEAR(*predict_point(info, recipe, point(angle)).lateral_6dB.width_m / predicted, 1.0, 1e-5);
    }
    // 40 columns out, 33.3 back, along the face. Across the beam a chord is shorter than its arc of 16 mm by 0.4 %, but
    // its ends lie 0.6 mm behind and look from farther off.
    const double flat = 1540.0 / 5e6 * 40e-3 / 16e-3 * 0.885893;
    EXPECT_GT(middle, 1.01 * flat);
    EXPECT_LT(middle, 1.12 * flat);
}

TEST(LateralTheory, DivergingWavesComeFromTheirSources) {
    // Waves from 41 sources 10 mm behind the face, 0.5 mm apart: seen from 30 mm deep they fill 20.5 mm at 40 mm, an
    // aperture of F# 1.95 on transmit; 64 receive elements, F# 1.5625. Product of two sinc patterns, as for any two
    // apertures.
    RecordingInfo info = line_recording();
    const TransmitEvent one = info.events.front();
    info.events.clear();
    for (int n = -20; n <= 20; ++n) {
        TransmitEvent event = one;
        event.kind = TransmitKind::diverging;
        event.origin_m = Vec3(0.5e-3 * n, 0.0, 0.0);
        event.direction = Vec3::UnitZ();
        event.focus_m = event.origin_m - 10e-3 * Vec3::UnitZ();
        event.line = n + 20;
        info.events.push_back(event);
    }
    const auto sinc = [](double x) { return x == 0.0 ? 1.0 : std::sin(std::numbers::pi * x) / (std::numbers::pi * x); };
    double half = 0.0;
    while (sinc(half * 20.5 / 40.0) * sinc(half * 19.2 / 30.0) > 0.5) half += 1e-5;
    const double wavelength = 1540.0 / 5e6;
    EXPECT_NEAR(lateral_theory_m(info, Recipe{}, {0.0, 0.0, 30e-3}, 0.5) / (2.0 * half * wavelength), 1.0, 0.01);
}

}  // namespace
}  // namespace echoloom
