#include "recon/measure/plot.h"

#include <gtest/gtest.h>

#include <cstdlib>
#include <fstream>
#include <sstream>

#include "recon/measure/gnuplot.h"
#include "sim/base/error.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

std::string contents(const std::filesystem::path& path) {
    std::ifstream file(path, std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

class Plot : public testing::Test {
  protected:
    void SetUp() override {
        folder_ =
            std::filesystem::temp_directory_path() / ("echoloom plot's test " + std::to_string(::getpid()) +
                                                      testing::UnitTest::GetInstance()->current_test_info()->name());
        std::filesystem::create_directories(folder_);
    }
    void TearDown() override { std::filesystem::remove_all(folder_); }
    std::filesystem::path folder_;
};

std::vector<ImageReport> widths_of_two_recipes() {
    std::vector<ImageReport> images(2);
    images[0].label = "Fixed focus, it's \"one\" depth";
    images[1].label = "Dynamic_focus";
    for (std::size_t n = 0; n < 2; ++n) {
        for (int depth = 10; depth <= 60; depth += 10) {
            PointReport point;
            point.measured.true_m = {0.0, 0.0, depth * 1e-3};
            point.measured.found = true;
            point.measured.lateral_6dB.samples = 10.0;
            point.measured.lateral_6dB.width_m = (0.2 + 0.01 * depth * (n == 0 ? 3 : 1)) * 1e-3;
            point.predicted_lateral_6dB_m = *point.measured.lateral_6dB.width_m * 1.02;
            images[n].points.push_back(point);
        }
    }
    images[0].points[2].measured.lateral_6dB.width_m.reset();
    return images;
}

TEST_F(Plot, WidthsLeaveNumbersScriptAndPictures) {
    const auto png = plot_widths(widths_of_two_recipes(), folder_);
    EXPECT_EQ(png, folder_ / "widths.png");
    EXPECT_EQ(contents(png).substr(1, 3), "PNG");
    const std::string svg = contents(folder_ / "widths.svg");
    EXPECT_NE(svg.find("<svg"), std::string::npos);
    EXPECT_NE(svg.find("</svg>"), std::string::npos);
    EXPECT_NE(svg.find("Dynamic_focus"), std::string::npos);
    EXPECT_NE(svg.find("depth (mm)"), std::string::npos);
    EXPECT_NE(svg.find("lateral -6 dB width (mm)"), std::string::npos);
    const std::string csv = contents(folder_ / "widths.csv");
    EXPECT_NE(csv.find("\n30,,1.12"), std::string::npos) << "a missing width is an empty cell\n" << csv;
}

TEST_F(Plot, TheScriptStandsAlone) {
    const auto png = plot_widths(widths_of_two_recipes(), folder_);
    std::filesystem::remove(png);
    std::filesystem::remove(folder_ / "widths.svg");
    run_gnuplot(folder_ / "widths.gp", "");
    EXPECT_TRUE(std::filesystem::exists(png));
    EXPECT_TRUE(std::filesystem::exists(folder_ / "widths.svg"));
}

TEST_F(Plot, ProfilesInDecibels) {
    std::vector<ProfileCurve> curves(2);
    for (std::size_t n = 0; n < 2; ++n) {
        curves[n].title = n == 0 ? "wide" : "narrow";
        for (int i = -200; i <= 200; ++i) {
            curves[n].profile.position_m.push_back(i * 0.02e-3);
            curves[n].profile.amplitude.push_back(synthetic::sinc_squared(i * 0.02e-3, n == 0 ? 1.2e-3 : 0.5e-3));
        }
    }
    const auto png =
        plot_profiles(curves, folder_, "profiles", {"Profiles at 40 mm", "Probe\nnot for diagnosis"}, 5e-3);
    EXPECT_EQ(contents(png).substr(1, 3), "PNG");
    const std::string csv = contents(folder_ / "profiles.csv");
    EXPECT_NE(csv.find("\n0,0,0,0\n"), std::string::npos) << "both peaks are 0 dB";
    EXPECT_NE(contents(folder_ / "profiles.svg").find("not for diagnosis"), std::string::npos);
    EXPECT_NE(contents(folder_ / "profiles.gp").find("half_range_mm = 5\n"), std::string::npos);

    // 5 of the wider one's widths, 6 mm, unless a point stands beside it.
    const auto range_mm = [&](std::vector<TruePoint> others) {
        return 1e3 * profile_half_range_m(curves, {0.0, 0.0, 40e-3}, others);
    };
    EXPECT_NEAR(range_mm({}), 6.0, 0.1);
    EXPECT_NEAR(range_mm({{{-10e-3, 0.0, 41e-3}, 1.0}}), 5.0, 1e-9);
    EXPECT_NEAR(range_mm({{{-2e-3, 0.0, 40e-3}, 1.0}}), 6.0, 0.1) << "closer than 3 widths: both are shown";
    EXPECT_NEAR(range_mm({{{0.0, 0.0, 50e-3}, 1.0}, {{0.0, 0.0, 40e-3}, 1.0}}), 6.0, 0.1) << "below, and itself";
    curves[0].profile.amplitude = curves[1].profile.amplitude;
    EXPECT_NEAR(range_mm({}), 2.5, 0.1);
}

TEST_F(Plot, WidthsOfTooFewPixelsAreHollowAndTheFootSaysWhatItIs) {
    auto images = widths_of_two_recipes();
    for (ImageReport& image : images) image.provenance = "Probe flat\nnot for diagnosis";
    plot_widths(images, folder_);
    EXPECT_EQ(contents(folder_ / "widths.svg").find("hollow"), std::string::npos);
    images[1].points[0].measured.lateral_6dB.samples = 2.5;
    plot_widths(images, folder_);
    EXPECT_NE(contents(folder_ / "widths.csv").find("\n10,0.5,0.51,,,0.306,0.3\n"), std::string::npos)
        << contents(folder_ / "widths.csv");
    const std::string svg = contents(folder_ / "widths.svg");
    EXPECT_NE(svg.find("hollow: fewer than 3 pixels"), std::string::npos);
    EXPECT_NE(svg.find("Probe flat"), std::string::npos);
    images[0].provenance = "Probe curved\nnot for diagnosis";
    EXPECT_EQ(plot_footer(images), "not for diagnosis");
}

TEST_F(Plot, AMissingGnuplotIsNamedAndLeavesNoPicture) {
    const std::string path = std::getenv("PATH");
    ::setenv("PATH", "/nonexistent", 1);
    std::string message;
    try {
        plot_widths(widths_of_two_recipes(), folder_);
    } catch (const MachineError& error) {
        message = error.what();
    }
    ::setenv("PATH", path.c_str(), 1);
    EXPECT_NE(message.find("gnuplot-nox"), std::string::npos) << message;
    EXPECT_TRUE(std::filesystem::exists(folder_ / "widths.csv"));
    EXPECT_TRUE(std::filesystem::exists(folder_ / "widths.gp"));
    EXPECT_EQ(std::distance(std::filesystem::directory_iterator(folder_), {}), 2) << "numbers and script alone";
}

TEST_F(Plot, GnuplotsComplaintIsPassedOn) {
    std::ofstream(folder_ / "bad.gp") << "plot 'no such file'\n";
    try {
        run_gnuplot(folder_ / "bad.gp", "");
        FAIL() << "a failing script must throw";
    } catch (const MachineError& error) {
        EXPECT_NE(std::string(error.what()).find("bad.gp"), std::string::npos) << error.what();
        EXPECT_NE(std::string(error.what()).find("no such file"), std::string::npos) << error.what();
    }
}

TEST_F(Plot, RefusesNothingAndTooMuch) {
    EXPECT_THROW(plot_widths({}, folder_), InputError);
    EXPECT_THROW(plot_widths(std::vector<ImageReport>(9), folder_), InputError);
}

}  // namespace
}  // namespace echoloom
