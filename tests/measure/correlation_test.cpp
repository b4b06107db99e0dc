// Correlation of successive pulses on images whose lines are known in closed form.

#include "recon/measure/correlation.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "recon/measure/prediction.h"
#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

constexpr double step_rad = 0.004, face_radius = 10e-3, depth = 60e-3, wavelength = 1540.0 / 5e6;

/// Lines of a stationary head of rings, whose RF is given along depth for each line.
Image swept_image(const std::function<double(int line, double from_target_m)>& rf, int lines = 41) {
    Image image;
    RecordingInfo& info = image.recording;
    info.probe.kind = "annular";
    info.probe.center_Hz = 5e6;
    info.probe.bandwidth_fraction = 0.6;
    info.probe.pulse = GaussianPulse{5e6, 0.6};
    info.probe.elements = ring_face(equal_area_edges(4, 7e-3, 0.0));
    info.channels = 4;
    info.head = HeadMotion{face_radius, 0.0};
    info.scan_depth_m = 77e-3;
    info.truth.points = {{{0.0, 0.0, depth}, 1e-3}};
    image.recipe.name = "test";
    image.recipe.keep_rf = true;
    image.sound_speed_m_s = 1540.0;
    LineGrid grid;
    for (int d = 0; d < 301; ++d) grid.depth_m.push_back(depth - 3e-3 + 0.02e-3 * d);
    for (int n = 0; n < lines; ++n) {
        const double angle = (n - lines / 2) * step_rad;
        info.events.push_back(swept_event(info.probe, *info.head, {depth, 4, Window{}}, angle, 1540.0));
        info.events.back().receivers = {0, 1, 2, 3};
        info.events.back().line = n;
        grid.origin_m.push_back(info.events.back().origin_m);
        grid.direction.push_back(info.events.back().direction);
        for (const double place : grid.depth_m)
            image.real.push_back(static_cast<float>(rf(n - lines / 2, place - depth)));
    }
    image.columns = grid.origin_m.size();
    image.depths = grid.depth_m.size();
    image.envelope.assign(image.real.size(), 0.0F);
    image.grid = std::move(grid);
    return image;
}

/// An echo over depth: 2 wavelengths of travel per wavelength of depth.
double echo(double from, double phase = 0.0) {
    return synthetic::gaussian(from, 0.8e-3) * std::cos(4.0 * std::numbers::pi * from / wavelength + phase);
}

TEST(Correlation, IsThatOfTheEchoesWhateverTheirStrength) {
    // Line after line the echo turns by a tenth of a radian and weakens: the correlation is the cosine, the level 20
    // log.
    const Image image = swept_image([](int line, double from) { return std::pow(0.9, line) * echo(from, 0.1 * line); });
    const CorrelationReport report = correlate_pulses(image);
    ASSERT_EQ(report.targets.size(), 1U);
    const auto& pulses = report.targets.front().pulses;
    ASSERT_GT(pulses.size(), 5U);
    EXPECT_EQ(pulses.front().pulses, 0);
    EXPECT_EQ(pulses.front().correlation, 1.0);
    for (std::size_t m = 1; m <= 5; ++m) {
        const auto later = static_cast<double>(m);
        EXPECT_NEAR(pulses[m].correlation, std::cos(0.1 * later), 1e-3) << m;
        EXPECT_NEAR(pulses[m].level_dB, later * 20.0 * std::log10(0.9), 5e-3) << m;  // the gate cuts the echo's flanks
        EXPECT_NEAR(pulses[m].angle_rad, later * step_rad, 1e-9) << m;
        EXPECT_NEAR(pulses[m].moved_m, later * step_rad * (depth + face_radius), 1e-7) << m;
        EXPECT_GT(pulses[m].best_correlation, pulses[m].correlation) << m;
    }
    const auto predicted = predict_point(image.recording, image.recipe, {0.0, 0.0, depth});
    EXPECT_NEAR(pulses[1].moved_m / pulses[1].beam_widths, *predicted.lateral_6dB.width_m, 1e-9);
    EXPECT_NEAR(report.gate_m, 4.0 * wavelength, 1e-9);
    EXPECT_NEAR(*report.pulse_interval_s, 100e-6, 1e-12);
}

TEST(Correlation, GivesTheShiftThatAMeasurementWouldTakeForMotion) {
    // 5 micrometres deeper from line to line.
    const Image image = swept_image([](int line, double from) { return echo(from - 5e-6 * line); });
    const auto pulses = correlate_pulses(image).targets.front().pulses;
    for (std::size_t m = 1; m <= 5; ++m) {
        const auto later = static_cast<double>(m);
        EXPECT_NEAR(pulses[m].apparent_m, 5e-6 * later, 1.3e-6) << m;  // half a step of the search
        EXPECT_NEAR(pulses[m].best_correlation, 1.0, 1e-3) << m;
        EXPECT_NEAR(pulses[m].correlation, std::cos(4.0 * std::numbers::pi * 5e-6 * later / wavelength), 2e-3) << m;
    }
}

TEST(Correlation, OfAStationaryBeamIsOne) {
    const auto pulses =
        correlate_pulses(swept_image([](int, double from) { return echo(from); })).targets.front().pulses;
    for (const LaterPulse& pulse : pulses) EXPECT_NEAR(pulse.correlation, 1.0, 1e-6);
}

TEST(Correlation, NeedsRfOfLines) {
    Image image = swept_image([](int, double from) { return echo(from); });
    image.real.clear();
    try {
        correlate_pulses(image, {"image.h5"});
        FAIL();
    } catch (const InputError& error) {
        EXPECT_STREQ(error.what(),
                     "image.h5: the image has not kept its RF; reconstruct it with --set recipe.keep_rf=true");
    }
    image.grid = CartesianGrid{{0.0}, {0.0, 1.0}};
    EXPECT_THROW(correlate_pulses(image), InputError);
}

TEST(Correlation, SaysWhyThereIsNoResult) {
    Image image = swept_image([](int, double from) { return echo(from); });
    image.recording.truth.points = {{{0.0, 0.0, 90e-3}, 1e-3}, {{0.0, 0.0, depth + 2.9e-3}, 1e-3}};
    const auto targets = correlate_pulses(image).targets;
    EXPECT_EQ(targets[0].reason, "too close to the image's edge");
    EXPECT_EQ(targets[1].reason, "outside the image");
    EXPECT_TRUE(targets[0].pulses.empty());
}

std::size_t count_of(const std::string& text, const std::string& part) {
    std::size_t count = 0;
    for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++count;
    return count;
}

TEST(Correlation, EveryFormSaysTheCautionOnceAndTheNumbersAlike) {
    const Image image = swept_image([](int line, double from) { return echo(from, 0.1 * line); });
    const std::vector<CorrelationReport> reports{correlate_pulses(image)};
    const std::string text = correlation_text(reports), csv = correlation_csv(reports),
                      json = correlation_json(reports);
    for (const std::string& form : {text, csv, json}) {
        EXPECT_EQ(count_of(form, "not for diagnosis"), 1U);
        EXPECT_EQ(count_of(form, "licensed practice and local regulations decide."), 1U);
    }
    EXPECT_NE(
        text.find(
            "   60.00    0.00       0    0.000   0.000    0.00       1.0000      0.0    0.0000  (a stationary beam"),
        std::string::npos)
        << text;
    EXPECT_NE(text.find("a pulse every 100 us, a head that is stationary during each line"), std::string::npos) << text;
    const auto root = nlohmann::json::parse(json);
    EXPECT_EQ(root.at("format"), "echoloom pulse correlation");
    EXPECT_NEAR(root.at("images")[0].at("targets")[0].at("pulses")[1].at("correlation").get<double>(), std::cos(0.1),
                1e-3);
    std::istringstream lines(csv);
    std::string line;
    std::getline(lines, line);
    std::getline(lines, line);
    EXPECT_EQ(line,
              "file,recipe,true_x_mm,true_depth_mm,pulses_later,angle_deg,moved_mm,beam_widths,correlation,level_dB,"
              "apparent_shift_mm,best_correlation");
}

TEST(Correlation, PlotLeavesItsFourFiles) {
    const auto folder = std::filesystem::temp_directory_path() / ("echoloom_correlation_" + std::to_string(::getpid()));
    std::filesystem::create_directories(folder);
    CorrelationReport report =
        correlate_pulses(swept_image([](int line, double from) { return echo(from, 0.1 * line); }));
    const auto png = plot_correlation(report, folder);
    EXPECT_EQ(png, folder / "correlation.png");
    for (const char* ending : {".csv", ".gp", ".png", ".svg"}) {
        EXPECT_GT(std::filesystem::file_size(folder / ("correlation" + std::string(ending))), 100U) << ending;
    }
    std::ifstream csv(folder / "correlation.csv");
    std::string line;
    std::getline(csv, line);
    EXPECT_EQ(line,
              "\"60 mm deep, x 0 mm: angle_deg\",\"60 mm deep, x 0 mm: beam_widths\","
              "\"60 mm deep, x 0 mm: correlation\"");
    std::getline(csv, line);
    EXPECT_EQ(line, "0,0,1");
    report.targets.front().pulses.clear();
    EXPECT_THROW(plot_correlation(report, folder), InputError);
    std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace echoloom
