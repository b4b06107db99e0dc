#include "recon/measure/report.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

PointReport point_at(double x, double depth, double scale) {
    PointReport point;
    point.measured.true_m = {x, 0.0, depth};
    point.measured.found = true;
    point.measured.peak_m = {x + 0.004e-3, 0.0, depth - 0.002e-3};
    point.measured.lateral_error_m = 0.004e-3;
    point.measured.axial_error_m = -0.002e-3;
    const auto width = [&](double full) {
        LevelWidth level;
        level.width_m = full;
        level.samples = 10.0;
        return level;
    };
    point.measured.lateral_6dB = width(0.5e-3 * scale);
    point.measured.lateral_20dB = width(0.9e-3 * scale);
    point.measured.axial_6dB = width(0.23e-3);
    point.measured.axial_20dB = width(0.42e-3);
    point.theory_lateral_6dB_m = 0.48e-3 * scale;
    point.theory_lateral_20dB_m = 0.80e-3 * scale;
    point.theory_axial_6dB_m = 0.2265e-3;
    point.theory_axial_20dB_m = 0.4128e-3;
    point.predicted_lateral_6dB_m = 0.495e-3 * scale;
    point.predicted_lateral_20dB_m = 0.88e-3 * scale;
    point.predicted_axial_6dB_m = 0.228e-3;
    point.predicted_slice_6dB_m = 1.6e-3 * scale;
    point.line_angle_rad = std::atan2(x, depth);
    return point;
}

std::vector<ImageReport> two_images() {
    ImageReport first;
    first.recipe = "dynamic";
    first.title = "Dynamic focus";
    first.probe = "flat 5 MHz";
    first.center_Hz = 5e6;
    first.bandwidth_fraction = 0.6;
    first.sound_speed_m_s = 1540.0;
    first.assumed_sound_speed_m_s = 1540.0;
    first.recording_digest = "sha256:0123";
    first.points = {point_at(0.0, 20e-3, 1.0), point_at(-10e-3, 120e-3, 6.0)};
    first.points[0].measured.lateral_6dB.samples = 2.4;
    first.points[1].measured.lateral_20dB.lobes = true;
    ImageReport second = first;
    second.file = "fast.h5";
    second.recipe = "fast";
    second.title = "Assumed \"1600\"";
    second.assumed_sound_speed_m_s = 1600.0;
    second.points[0] = point_at(0.0, 20e-3, 2.0);
    second.lines_fan = true;
    second.notes = {"what theory leaves out here"};
    second.points[1].measured = {};
    second.points[1].measured.true_m = {-10e-3, 0.0, 120e-3};
    second.points[1].measured.reason = "outside the image";
    return {first, second};
}

TEST(Report, TextTable) {
    const std::string expected =
        R"table(Widths of points, in mm. -6 dB and -20 dB: at exactly half and one tenth of the peak amplitude. theory:
both apertures in focus at every depth, at the centre frequency (axial: 0.4413 wavelength/bandwidth,
without attenuation). predicted: computed for this recipe over the pulse's spectrum. ratio: measured over
predicted. slice: thickness in elevation. position error: peak minus true position. angle: of the line
nearest the point, in degrees.

Dynamic focus [dynamic]
  flat 5 MHz, 5 MHz, 60 % bandwidth, 1540 m/s
                    lateral -6 dB                         lateral -20 dB         axial -6 dB         slice -6 dB   position error
    depth       x   measured   theory  predicted  ratio   measured   predicted   measured   theory   predicted     lateral   axial
    20.00    0.00      0.500a   0.480      0.495  1.010      0.900       0.880      0.230    0.227       1.600       0.004  -0.002
   120.00  -10.00      3.000    2.880      2.970  1.010      5.400b      5.280      0.230    0.227       9.600       0.004  -0.002
    a  fewer than 3 pixels across: make the grid finer to trust the width
    b  spans several lobes: between them the profile falls below this level

fast.h5: Assumed "1600" [fast]
  flat 5 MHz, 5 MHz, 60 % bandwidth, 1540 m/s (reconstructed for 1600 m/s)
                           lateral -6 dB                         lateral -20 dB         axial -6 dB         slice -6 dB   position error
    depth       x  angle   measured   theory  predicted  ratio   measured   predicted   measured   theory   predicted     lateral   axial
    20.00    0.00    0.0      1.000    0.960      0.990  1.010      1.800       1.760      0.230    0.227       3.200       0.004  -0.002
   120.00  -10.00   -4.8          -a   2.880      2.970      -          -       5.280          -    0.227       9.600           -       -
    a  not measured: outside the image
  what theory leaves out here

For teaching and research only: not for diagnosis and not for setting acoustic output; licensed practice and local regulations decide.
)table";
    EXPECT_EQ(text_report(two_images()), expected) << text_report(two_images());
}

std::size_t count_of(const std::string& text, const std::string& part) {
    std::size_t count = 0;
    for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
    return count;
}

TEST(Report, EveryFormSaysTheCautionOnce) {
    for (const std::string& text : {text_report(two_images()), csv_report(two_images()), json_report(two_images())}) {
        EXPECT_EQ(count_of(text, "not for diagnosis"), 1U);
        EXPECT_EQ(count_of(text, "licensed practice and local regulations decide."), 1U);
    }
}

TEST(Report, JsonKeepsItsSchema) {
    const auto root = nlohmann::json::parse(json_report(two_images()));
    EXPECT_EQ(root.at("format"), "echoloom measurement");
    EXPECT_EQ(root.at("format_version"), 1);
    EXPECT_EQ(root.at("levels").at("6dB"), 0.5);
    EXPECT_EQ(root.at("levels").at("20dB"), 0.1);
    ASSERT_EQ(root.at("images").size(), 2U);
    const auto& image = root.at("images")[0];
    EXPECT_EQ(image.at("recipe"), "dynamic");
    EXPECT_EQ(root.at("images")[1].at("file"), "fast.h5");
    EXPECT_EQ(image.at("center_MHz"), 5.0);
    EXPECT_EQ(image.at("recording_digest"), "sha256:0123");
    const auto& point = image.at("points")[0];
    const std::vector<std::string> keys{"measured",
                                        "true_x_mm",
                                        "true_depth_mm",
                                        "peak_x_mm",
                                        "peak_depth_mm",
                                        "line_angle_deg",
                                        "lateral_error_mm",
                                        "lateral_error_predicted_mm",
                                        "axial_error_mm",
                                        "lateral_6dB_mm",
                                        "lateral_6dB_theory_mm",
                                        "lateral_6dB_predicted_mm",
                                        "lateral_6dB_ratio",
                                        "lateral_20dB_mm",
                                        "lateral_20dB_theory_mm",
                                        "lateral_20dB_predicted_mm",
                                        "axial_6dB_mm",
                                        "axial_6dB_theory_mm",
                                        "axial_6dB_predicted_mm",
                                        "axial_20dB_mm",
                                        "axial_20dB_theory_mm",
                                        "slice_6dB_predicted_mm",
                                        "notes"};
    EXPECT_EQ(point.size(), keys.size());
    for (const std::string& key : keys) EXPECT_TRUE(point.contains(key)) << key;
    EXPECT_NEAR(point.at("lateral_6dB_mm").get<double>(), 0.5, 1e-12);
    EXPECT_NEAR(point.at("lateral_6dB_ratio").get<double>(), 0.5 / 0.495, 1e-12);
    EXPECT_EQ(point.at("notes")[0], "lateral_6dB: fewer than 3 pixels across");
    const auto& lost = root.at("images")[1].at("points")[1];
    EXPECT_EQ(lost.at("measured"), false);
    EXPECT_TRUE(lost.at("lateral_6dB_mm").is_null());
    EXPECT_TRUE(lost.at("peak_x_mm").is_null());
    EXPECT_EQ(lost.at("notes")[0], "not measured: outside the image");
}

TEST(Report, ImagesOfOneTitleAreLabelledByTheirFiles) {
    std::vector<ImageReport> images(3);
    images[0].label = images[1].label = "Apodized";
    images[2].label = "Fixed focus";
    images[0].file = "before.h5";
    images[1].file = "after.h5";
    images[2].file = "fixed_focus.h5";
    label_apart(images);
    EXPECT_EQ(images[0].label, "Apodized (before.h5)");
    EXPECT_EQ(images[1].label, "Apodized (after.h5)");
    EXPECT_EQ(images[2].label, "Fixed focus");
}

TEST(Report, CsvHasOneRowPerPointAndAsManyCellsAsNames) {
    std::istringstream csv(csv_report(two_images()));
    std::string line;
    std::getline(csv, line);
    EXPECT_EQ(line.substr(0, 2), "# ");
    std::getline(csv, line);
    EXPECT_EQ(line.substr(0, 44), "file,recipe,measured,true_x_mm,true_depth_mm");
    const auto commas = count_of(line, ",");
    int rows = 0;
    while (std::getline(csv, line)) {
        EXPECT_EQ(count_of(line, ","), commas) << line;
        ++rows;
    }
    EXPECT_EQ(rows, 4);
}

/// An image of two points as wide as in theory, so that measured over predicted is one.
TEST(Report, MeasuresAnImageAgainstItsPrediction) {
    Image image = synthetic::cartesian_image(0.05e-3, 201, 0.02e-3, 35e-3, 501, [](double x, double z) {
        return synthetic::gaussian(x, 0.6e-3) * synthetic::gaussian(z - 40e-3, 0.2265e-3);
    });
    image.recipe.name = "test";
    image.recording.probe = synthetic::line_probe(64, 0.3e-3, 0.27e-3, 5e6, 0.6);
    image.recording.channels = 64;
    image.recording.events = {
        synthetic::focused_event(image.recording.probe, Vec3::Zero(), Vec3::UnitZ(), 40e-3, 1540.0)};
    image.recording.truth.points = {{{0.0, 0.0, 60e-3}, 1e-3}, {{0.0, 0.0, 40e-3}, 1e-3}};
    const ImageReport report = report_image(image);
    ASSERT_EQ(report.points.size(), 2U);
    EXPECT_DOUBLE_EQ(report.points[0].measured.true_m.z(), 40e-3) << "sorted by depth";
    ASSERT_TRUE(report.points[0].ratio());
    EXPECT_NEAR(*report.points[0].ratio(), 0.6e-3 / *report.points[0].predicted_lateral_6dB_m, 1e-3);
    // F# 2, spreading, wide elements and an unfocused elevation all widen the beam beyond theory, by some percent.
    EXPECT_GT(*report.points[0].predicted_lateral_6dB_m, report.points[0].theory_lateral_6dB_m);
    EXPECT_LT(*report.points[0].predicted_lateral_6dB_m, 1.1 * report.points[0].theory_lateral_6dB_m);
    EXPECT_FALSE(report.points[1].measured.found);
    EXPECT_FALSE(report.points[1].ratio());
}

/// A width three times that of theory, far from the transmit focus, in a medium that attenuates.
TEST(Report, SaysWhyWidthsExceedTheory) {
    const auto image_at = [](double depth, double width) {
        Image image = synthetic::cartesian_image(0.05e-3, 201, 0.02e-3, depth - 5e-3, 501, [&](double x, double z) {
            return synthetic::gaussian(x, width) * synthetic::gaussian(z - depth, 0.2265e-3);
        });
        image.recording.probe = synthetic::line_probe(64, 0.3e-3, 0.27e-3, 5e6, 0.6);
        image.recording.channels = 64;
        image.recording.medium.attenuation_dB_cm_MHz = 0.5;
        image.recording.events = {
            synthetic::focused_event(image.recording.probe, Vec3::Zero(), Vec3::UnitZ(), 40e-3, 1540.0)};
        image.recording.truth.points = {{{0.0, 0.0, depth}, 1e-3}};
        image.recipe.aperture = ApertureMode::growing;
        image.recipe.f_number = 2.0;
        return report_image(image).notes;
    };
    const auto noted = [](const std::vector<std::string>& notes, const std::string& text) {
        return std::ranges::any_of(notes, [&](const std::string& note) { return note.find(text) != note.npos; });
    };
    const auto deep = image_at(70e-3, 2.5e-3);
    // 3.5 lambda F^2 = 3.5 * 0.308 * (40 / 19.2)^2 = 4.7 mm to either side (3 dB down on the axis, G. S. Kino, Acoustic
    // Waves, 1987, from memory; recomputed by tests/published/recompute_arrays.py); 64 elements of 0.3 mm at F/2: 38.4
    // mm.
    EXPECT_TRUE(noted(deep, "in focus from about 35.3 mm to 44.7 mm"));
    EXPECT_TRUE(noted(deep, "deeper than 38.4 mm"));
    // 0.0576 Np/cm/MHz * 14 cm * (0.6 * 5 / 2.3548)^2 MHz^2 = 1.308 MHz: 26 % (A. C. Kak & K. A. Dines, IEEE Trans. BME
    // 25, 321-344, 1978, from memory; recomputed by tests/published/recompute_pulse.py).
    EXPECT_TRUE(noted(deep, "by 26 % at 70 mm"));
    EXPECT_TRUE(noted(image_at(10e-3, 1.0e-3), "F-number is below 0.8"));
    EXPECT_TRUE(image_at(40e-3, 0.58e-3).empty()) << "as wide as in theory: nothing to explain";
}

}  // namespace
}  // namespace echoloom
