// What is kept of an accepted image, and how its scenario is declared.

#include "tests/gate/baseline.h"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>

#include "sim/base/error.h"
#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"
#include "tests/gate/scenario.h"
#include "tests/measure/synthetic.h"

namespace echoloom::gate {
namespace {

/// A spot on 130 columns and 700 depths, with lines' RF.
Image image() {
    Image spot = synthetic::cartesian_image(1e-4, 130, 2.5e-5, 10e-3, 700, [](double x, double z) {
        return 3.0 * synthetic::gaussian(x, 1e-3) * synthetic::gaussian(z - 15e-3, 4e-4);
    });
    for (const float value : spot.envelope) {
        spot.real.push_back(spot.real.size() % 3 == 0 ? -value : value);
    }
    return spot;
}

TEST(Baseline, CodesKeepAmplitudesToAMillionth) {
    std::vector<float> values{0.0F, -0.0F};
    for (int n = 0; n < 2000; ++n) {
        values.push_back(static_cast<float>((n % 2 == 0 ? 1.0 : -1.0) * std::pow(10.0, -n / 310.0)));
    }
    const auto restored = from_codes(level_codes(values, 1.0), 1.0);
    ASSERT_EQ(restored.size(), values.size());
    for (std::size_t n = 0; n < values.size(); ++n) {
        EXPECT_LE(std::abs(restored[n] - values[n]), 1.3e-6F * std::abs(values[n]) + 1.1e-8F) << values[n];
    }
}

TEST(Baseline, ReadsBackWhatWasWritten) {
    const TemporaryFolder folder;
    Baseline baseline;
    const Image spot = image();
    baseline.recording_digest = "sha256:1";
    baseline.image_digest = image_digest(spot);
    baseline.grid = "a \"grid\"";
    baseline.peak = 1.0 / 3.0;
    baseline.stride = {2, 5};
    baseline.codes = {0, 1, 255, 256, 65535, 65536, 16777215};
    baseline.metrics = {{"points.measured", "x", 1.0},
                        {"regions.contrast_dB", "hole", -std::numeric_limits<double>::infinity()},
                        {"speckle.snr", "block", std::nullopt}};
    write_baseline(folder.path(), "a.b", baseline);
    const auto again = read_baseline(folder.path(), "a.b");
    ASSERT_TRUE(again);
    EXPECT_EQ(again->recording_digest, baseline.recording_digest);
    EXPECT_EQ(again->image_digest, baseline.image_digest);
    EXPECT_EQ(again->grid, baseline.grid);
    EXPECT_EQ(again->peak, baseline.peak);
    EXPECT_EQ(again->stride, baseline.stride);
    EXPECT_EQ(again->codes, baseline.codes);
    ASSERT_EQ(again->metrics.size(), 3U);
    EXPECT_EQ(again->metrics[1].value, baseline.metrics[1].value);
    EXPECT_FALSE(again->metrics[2].value);
    EXPECT_FALSE(read_baseline(folder.path(), "a.c"));
    std::ofstream(folder / "a.b.json") << "{\"recording_digest\": 3";
    EXPECT_NE(message_of([&] { read_baseline(folder.path(), "a.b"); }).find("take it from git again"),
              std::string::npos);
}

TEST(Baseline, ThinnedCopyIsSmallAndKnowsItsPlaces) {
    const Image spot = image();
    const Stride stride = stride_of(spot);
    const Image thin = thinned(spot, stride);
    EXPECT_LE(thin.envelope.size(), 4100U);
    EXPECT_GE(thin.envelope.size(), 1500U);
    ASSERT_EQ(thin.envelope.size(), thin.columns * thin.depths);
    ASSERT_EQ(thin.real.size(), thin.envelope.size());
    const auto& pixels = std::get<CartesianGrid>(thin.grid);
    ASSERT_EQ(pixels.x_m.size(), thin.columns);
    ASSERT_EQ(pixels.depth_m.size(), thin.depths);
    const std::size_t column = thin.columns / 2, depth = thin.depths / 3;
    EXPECT_EQ(thin.envelope[column * thin.depths + depth],
              spot.envelope[column * stride.column * spot.depths + depth * stride.depth]);
    EXPECT_EQ(pixels.depth_m[depth], std::get<CartesianGrid>(spot.grid).depth_m[depth * stride.depth]);
}

TEST(Baseline, DigestKnowsSamplesAndPlaces) {
    const Image spot = image();
    Image other = spot;
    EXPECT_EQ(image_digest(other), image_digest(spot));
    other.envelope[500] = std::nextafter(other.envelope[500], 1e9F);
    EXPECT_NE(image_digest(other), image_digest(spot));
    other = spot;
    other.real[7] = -other.real[7];
    EXPECT_NE(image_digest(other), image_digest(spot));
    other = spot;
    std::get<CartesianGrid>(other.grid).x_m[3] += 1e-9;
    EXPECT_NE(image_digest(other), image_digest(spot));
}

TEST(Scenarios, MistakesAreNamed) {
    const TemporaryFolder folder;
    const auto message = [&](const std::string& text) {
        std::ofstream(folder / "s.toml") << text;
        return message_of([&] { read_scenarios(folder / "s.toml"); });
    };
    const std::string start = "[[recording]]\nname = \"a\"\nphantom = \"p\"\nprobe = \"q\"\nscan = \"s\"\n";
    const std::string one = "[[recording.image]]\nname = \"i\"\nrecipe = \"r\"\n";
    EXPECT_EQ(message(start + one), "no error");
    EXPECT_NE(message(start).find("'a' has no image"), std::string::npos);
    EXPECT_NE(message(start + one + one).find("'i' is taken"), std::string::npos);
    EXPECT_NE(message(start + "set = \"lines=3\"\n" + one).find("must begin with phantom., probe. or scan."),
              std::string::npos);
    EXPECT_NE(message(start + "set = \"scan.lines 3\"\n" + one).find("write KEY=VALUE"), std::string::npos);
    EXPECT_NE(message(start + one + "recipes = \"r\"\n").find("did you mean"), std::string::npos);
    EXPECT_NE(message("[[recording]]\nname = \"A b\"\n").find("use small letters"), std::string::npos);
}

}  // namespace
}  // namespace echoloom::gate
