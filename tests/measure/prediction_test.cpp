// The computed prediction against sums over elements and closed forms, recomputed by tests/published/.

#include "recon/measure/prediction.h"

#include <gtest/gtest.h>

#include "recon/measure/theory.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

constexpr double speed = 1540.0, center = 5e6, pitch = 0.3e-3;
constexpr double wavelength = speed / center;
constexpr PredictionTerms ideal_wave{
    .broadband = false, .spreading = false, .directivity = false, .elevation = false, .attenuation = false};
constexpr PredictionTerms ideal_pulse{
    .broadband = true, .spreading = false, .directivity = false, .elevation = false, .attenuation = false};

RecordingInfo recording_focused_at(double depth) {
    RecordingInfo info;
    info.probe = synthetic::line_probe(64, pitch, 0.27e-3, center, 0.6);
    info.channels = 64;
    info.events = {synthetic::focused_event(info.probe, Vec3::Zero(), Vec3::UnitZ(), depth, speed)};
    return info;
}

/// One element fires, so that the receive aperture alone makes the beam.
RecordingInfo receive_only(double depth) {
    RecordingInfo info = recording_focused_at(depth);
    TransmitEvent& event = info.events.front();
    std::fill(event.weight.begin(), event.weight.end(), 0.0);
    event.weight[32] = 1.0;
    return info;
}

TEST(Prediction, ContinuousWaveBeyondParaxialTheory) {
    // Half-amplitude width in lambda F#, one-way and two-way: 64 points 0.3 mm apart, 5 MHz, exact distances. In no
    // book that we know; recomputed as a sum over elements by tests/published/recompute_arrays.py.
    struct Row {
        double depth, one_way, two_way;
    };
    for (const Row& row : {Row{80e-3, 1.2116, 0.8897}, Row{40e-3, 1.2258, 0.9005}, Row{20e-3, 1.2796, 0.9417}}) {
        const double f_number = row.depth / (64 * pitch);
        const Vec3 point(0.0, 0.0, row.depth);
        const auto both = predict_point(recording_focused_at(row.depth), Recipe{}, point, ideal_wave);
        ASSERT_TRUE(both.lateral_6dB.width_m);
        EXPECT_NEAR(*both.lateral_6dB.width_m / (wavelength * f_number), row.two_way, 1e-3) << "F# " << f_number;
        const auto back = predict_point(receive_only(row.depth), Recipe{}, point, ideal_wave);
        ASSERT_TRUE(back.lateral_6dB.width_m);
        EXPECT_NEAR(*back.lateral_6dB.width_m / (wavelength * f_number), row.one_way, 1e-3) << "F# " << f_number;
    }
}

TEST(Prediction, APulseHardlyChangesTheWidthInFocus) {
    // A pulse of 60 % moves the lateral width by -0.7 % one-way and by 0.4 % two-way (in no book that we know; summed
    // by tests/published/recompute_arrays.py). Axially 0.441271 lambda / B, and 1.822616 times that at one tenth:
    // time-bandwidth product of a Gaussian, halved for the way there and back (recomputed by recompute_pulse.py).
    const Vec3 point(0.0, 0.0, 60e-3);
    const auto pulse = predict_point(recording_focused_at(60e-3), Recipe{}, point, ideal_pulse);
    const auto wave = predict_point(recording_focused_at(60e-3), Recipe{}, point, ideal_wave);
    ASSERT_TRUE(pulse.lateral_6dB.width_m && wave.lateral_6dB.width_m && pulse.axial_6dB.width_m);
    EXPECT_NEAR(*pulse.lateral_6dB.width_m / *wave.lateral_6dB.width_m, 1.0, 0.03);
    EXPECT_NEAR(*pulse.axial_6dB.width_m / (0.441271 * wavelength / 0.6), 1.0, 0.005);
    EXPECT_NEAR(*pulse.axial_20dB.width_m / *pulse.axial_6dB.width_m, 1.822616, 0.01);
}

TEST(Prediction, AttenuationWidensByTheDownshift) {
    // A. C. Kak & K. A. Dines, IEEE Trans. BME 25, 321-344, 1978 (from memory): 5 MHz, B = 0.6, 0.5 dB/cm/MHz, 5 cm:
    // the Gaussian's peak moves down by 0.934292 MHz with its bandwidth unchanged (recomputed by
    // tests/published/recompute_pulse.py). Width goes as the wavelength of the moved centre.
    RecordingInfo info = recording_focused_at(50e-3);
    const Vec3 point(0.0, 0.0, 50e-3);
    PredictionTerms terms = ideal_pulse;
    terms.attenuation = true;
    const auto clear = predict_point(info, Recipe{}, point, terms);
    info.medium.attenuation_dB_cm_MHz = 0.5;
    const auto attenuated = predict_point(info, Recipe{}, point, terms);
    ASSERT_TRUE(clear.lateral_6dB.width_m && attenuated.lateral_6dB.width_m);
    EXPECT_NEAR(*attenuated.lateral_6dB.width_m / *clear.lateral_6dB.width_m, 5.0 / (5.0 - 0.934292), 0.015);
    EXPECT_NEAR(*attenuated.axial_6dB.width_m / *clear.axial_6dB.width_m, 1.0, 0.01);
}

TEST(Prediction, TheHighPassTouchesOnlyEchoesBroughtDown) {
    // recipe.h, default_high_pass: widths within 0.08 % as transmitted; 3.3 % wider where attenuation has brought the
    // echo down from 5 to 3.5 MHz, here by 0.5 dB/cm/MHz at 80.4 mm (downshift as above, 1.5 MHz). Recomputed from the
    // spectra by tests/published/recompute_pulse.py.
    RecordingInfo info = recording_focused_at(80.4e-3);
    Recipe without;
    without.high_pass_Hz = 0.0;
    PredictionTerms terms = ideal_pulse;
    terms.attenuation = true;
    const auto axial = [&](const Recipe& recipe) {
        return predict_point(info, recipe, {0.0, 0.0, 80.4e-3}, terms).axial_6dB.width_m.value_or(0.0);
    };
    EXPECT_NEAR(axial(Recipe{}) / axial(without), 1.0, 0.001);
    info.medium.attenuation_dB_cm_MHz = 0.5;
    EXPECT_NEAR(axial(Recipe{}) / axial(without), 1.033, 0.005);
}

TEST(Prediction, AWrongSoundSpeedDefocuses) {
    // Receive-only continuous wave, 64 x 0.3 mm, point at 40 mm, 1540 m/s assumed: in no book that we know; recomputed
    // as a sum over elements by tests/published/recompute_arrays.py, which moves the pixel under a resting aperture. A
    // scan line carries its aperture along, and one step of the line is worth (assumed/true)^2 steps of the pixel, as
    // depth and wave number both differ by assumed/true.
    struct Row {
        double true_speed, width_mm;
    };
    for (const Row& row : {Row{1540.0, 0.787}, Row{1600.0, 0.864}, Row{1480.0, 0.950}, Row{1450.0, 2.114}}) {
        RecordingInfo info = receive_only(40e-3);
        info.medium.sound_speed_m_s = row.true_speed;
        Recipe recipe;
        recipe.sound_speed_m_s = 1540.0;
        const auto prediction = predict_point(info, recipe, {0.0, 0.0, 40e-3}, ideal_wave);
        ASSERT_TRUE(prediction.lateral_6dB.width_m);
        const double steps = std::pow(1540.0 / row.true_speed, 2);
        EXPECT_NEAR(*prediction.lateral_6dB.width_m * 1e3 * steps, row.width_mm, 0.01 * row.width_mm) << row.true_speed;
    }
}

TEST(Prediction, FixedFocusSpreadsAwayFromItsDepthAndDynamicDoesNot) {
    const RecordingInfo info = receive_only(30e-3);
    Recipe fixed;
    fixed.focus = FocusMode::fixed;
    fixed.focus_depths_m = {30e-3};
    const auto width = [&](const Recipe& recipe, double depth) {
        return predict_point(info, recipe, {0.0, 0.0, depth}).lateral_6dB.width_m.value_or(0.0);
    };
    EXPECT_NEAR(width(fixed, 30e-3), width(Recipe{}, 30e-3), 1e-9);
    EXPECT_GT(width(fixed, 15e-3), 3.0 * width(Recipe{}, 15e-3));
    EXPECT_GT(width(fixed, 90e-3), 2.0 * width(Recipe{}, 90e-3));
}

/// 128 elements, each firing once while all receive; the recipe's aperture of 64 then moves freely with the pixel.
RecordingInfo full_matrix() {
    RecordingInfo info;
    info.probe = synthetic::line_probe(128, pitch, 0.27e-3, center, 0.6);
    info.channels = 128;
    TransmitEvent event = synthetic::focused_event(info.probe, Vec3::Zero(), Vec3::UnitZ(), 40e-3, speed);
    event.kind = TransmitKind::element;
    event.focus_m = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
    std::fill(event.delay_s.begin(), event.delay_s.end(), 0.0);
    for (std::size_t n = 0; n < info.probe.elements.size(); ++n) {
        event.origin_m = info.probe.elements[n].center_m;
        std::fill(event.weight.begin(), event.weight.end(), 0.0);
        event.weight[n] = 1.0;
        event.line = static_cast<int>(n);
        info.events.push_back(event);
    }
    return info;
}

Recipe sixty_four_elements() {
    Recipe recipe;
    recipe.max_elements = 64;
    return recipe;
}

TEST(Prediction, FullMatrixIsFocusedBothWaysEverywhere) {
    // The same table as above: two-way widths that no single transmit focus gives at both depths.
    for (const auto& [depth, two_way] : {std::pair(80e-3, 0.8897), std::pair(40e-3, 0.9005)}) {
        const auto prediction = predict_point(full_matrix(), sixty_four_elements(), {0.0, 0.0, depth}, ideal_wave);
        ASSERT_TRUE(prediction.lateral_6dB.width_m);
        EXPECT_NEAR(*prediction.lateral_6dB.width_m / (wavelength * depth / (64 * pitch)), two_way, 2e-3);
        // Theory weights the firing elements as the recipe does: 64 of the 128, for which the sum over elements has
        // 0.885986 (recomputed by tests/published/recompute_arrays.py).
        const double theory = lateral_theory_m(full_matrix(), sixty_four_elements(), {0.0, 0.0, depth}, 0.5);
        EXPECT_NEAR(theory / (wavelength * depth / (64 * pitch)), 0.885986, 1e-5);
    }
}

TEST(Prediction, OnePlaneWaveIsFocusedOnReceiveAlone) {
    RecordingInfo info = full_matrix();
    TransmitEvent event = info.events.front();
    event.kind = TransmitKind::plane;
    event.origin_m = Vec3::Zero();
    std::fill(event.weight.begin(), event.weight.end(), 1.0);
    info.events = {event};
    const auto prediction = predict_point(info, sixty_four_elements(), {0.0, 0.0, 40e-3}, ideal_pulse);
    ASSERT_TRUE(prediction.lateral_6dB.width_m);
    EXPECT_NEAR(*prediction.lateral_6dB.width_m / (wavelength * 40e-3 / (64 * pitch)), 1.2258, 0.03 * 1.2258);
}

TEST(Prediction, RefusesARecordingWithoutEvents) {
    RecordingInfo info = recording_focused_at(40e-3);
    info.events.clear();
    EXPECT_THROW(predict_point(info, Recipe{}, {0.0, 0.0, 40e-3}), InputError);
}

}  // namespace
}  // namespace echoloom
