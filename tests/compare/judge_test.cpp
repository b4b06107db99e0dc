// Tolerances, the verdicts that follow from them, and their output.

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "recon/compare/comparison_output.h"
#include "recon/compare/similarity.h"
#include "sim/base/error.h"
#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

Metric width(double value, const char* where = "x 0.00, depth 30.00 mm") {
    return {"points.lateral_6dB_mm", where, value};
}

Outcome outcome_of(const Metric& before, const Metric& after, const Tolerances& tolerances = Tolerances::load()) {
    const auto checks = judge({&before, 1}, {&after, 1}, tolerances);
    return checks.size() == 1 ? checks.front().outcome : Outcome::ignored;
}

class ToleranceFile {
  public:
    explicit ToleranceFile(const std::string& text) { std::ofstream(file_) << text; }
    const std::filesystem::path& path() const { return file_; }

  private:
    TemporaryFolder folder_;
    std::filesystem::path file_ = folder_.path() / "mine.toml";
};

TEST(Tolerance, WidestOfWhatIsGiven) {
    Tolerance tolerance;
    tolerance.relative = 0.01;
    EXPECT_DOUBLE_EQ(tolerance.allowed(-3.0), 0.03);
    tolerance.absolute = 0.5;
    EXPECT_DOUBLE_EQ(tolerance.allowed(3.0), 0.5);
    // A field as strong as the lobe doubles it; one 20 dB below raises it by 20 log10(1.1).
    Tolerance level;
    level.disturbance_dB = -40.0;
    EXPECT_NEAR(level.allowed(-40.0), 20.0 * std::log10(2.0), 1e-12);
    EXPECT_NEAR(level.allowed(-20.0), 20.0 * std::log10(1.1), 1e-12);
}

TEST(Tolerance, EveryMetricOfAReportHasAnEntry) {
    const Tolerances tolerances = Tolerances::load();
    for (const char* name :
         {"image.difference_percent", "image_rf.largest_dB", "recording.worst_channel_percent", "points.measured",
          "side_lobes.integrated_side_lobe_ratio_dB", "grating_lobes.level_dB", "distances.rms_error_mm",
          "regions.gcnr", "speckle.axial_speckle_size_mm", "slice.thickness_mm", "penetration.depth_mm"}) {
        EXPECT_EQ(tolerances.of(name).name, name);
    }
    EXPECT_EQ(tolerances.of("something.new").name, "other");
}

TEST(Tolerance, AFileChangesWhatItNames) {
    const ToleranceFile file("[[metric]]\nname = \"points.lateral_6dB_mm\"\nabsolute = 0.2\nbetter = \"higher\"\n");
    const Tolerances mine = Tolerances::load(file.path());
    EXPECT_EQ(outcome_of(width(1.0), width(1.1), mine), Outcome::same);
    EXPECT_EQ(outcome_of(width(1.0), width(1.3), mine), Outcome::better);
    EXPECT_EQ(mine.of("points.axial_6dB_mm").relative, Tolerances::load().of("points.axial_6dB_mm").relative);
}

TEST(Tolerance, MistakesAreNamed) {
    const auto message = [](const char* text) {
        const ToleranceFile file(text);
        return message_of([&] { Tolerances::load(file.path()); });
    };
    EXPECT_NE(message("[[metric]]\nname = \"points.lateral_halb_mm\"\nabsolute = 1.0\n")
                  .find("did you mean 'points.lateral_6dB_mm'"),
              std::string::npos);
    EXPECT_NE(message("[[metric]]\nname = \"points.measured\"\n").find("has no tolerance; write absolute"),
              std::string::npos);
    EXPECT_NE(message("[[metric]]\nname = \"points.measured\"\nabsolut = 1.0\n").find("did you mean 'absolute'"),
              std::string::npos);
    EXPECT_NE(message("[[metric]]\nname = \"points.measured\"\nabsolute = -1.0\n").find("is -1"), std::string::npos);
    EXPECT_NE(message("[[metric]]\nname = \"points.measured\"\nabsolute = 1.0\nbetter = \"smaller\"\n").find("lower"),
              std::string::npos);
}

TEST(Judge, DirectionsAndLimits) {
    EXPECT_EQ(outcome_of(width(1.0), width(1.0)), Outcome::same);
    EXPECT_EQ(outcome_of(width(1.0), width(1.00499)), Outcome::same);
    EXPECT_EQ(outcome_of(width(1.0), width(1.00501)), Outcome::worse);
    EXPECT_EQ(outcome_of(width(1.0), width(0.99499)), Outcome::better);
    const auto error = [](double value) { return Metric{"points.axial_error_mm", "a", value}; };
    EXPECT_EQ(outcome_of(error(-0.02), error(-0.01)), Outcome::better);
    EXPECT_EQ(outcome_of(error(-0.01), error(0.02)), Outcome::worse);
    const auto contrast = [](double value) { return Metric{"regions.contrast_dB", "hole", value}; };
    EXPECT_EQ(outcome_of(contrast(-20.0), contrast(-21.0)), Outcome::different);
    const double silent = -std::numeric_limits<double>::infinity();
    EXPECT_EQ(outcome_of(contrast(silent), contrast(silent)), Outcome::same);
    EXPECT_EQ(outcome_of(contrast(silent), contrast(-20.0)), Outcome::different);
    EXPECT_EQ(outcome_of({"side_lobes.peak_side_lobe_position_mm", "a", 1.0},
                         {"side_lobes.peak_side_lobe_position_mm", "a", -1.0}),
              Outcome::ignored);
}

TEST(Judge, MetricsThatComeAndGo) {
    const std::vector<Metric> before{width(1.0, "here"), width(1.0, "gone")};
    const std::vector<Metric> after{width(1.0, "new"), width(1.0, "here"), {"points.lateral_6dB_mm", "none", {}}};
    const auto checks = judge(before, after, Tolerances::load());
    ASSERT_EQ(checks.size(), 3U);
    EXPECT_EQ(checks[0].outcome, Outcome::same);
    EXPECT_EQ(checks[1].outcome, Outcome::different);
    EXPECT_FALSE(checks[1].after);
    EXPECT_EQ(checks[2].where, "new");
    EXPECT_EQ(checks[2].outcome, Outcome::different);
}

PairComparison with(std::initializer_list<Outcome> outcomes, const char* reason = "") {
    PairComparison comparison;
    for (const Outcome outcome : outcomes) {
        comparison.checks.push_back({"points.lateral_6dB_mm", "a", 1.0, 2.0, 1.0, 0.1, {}, {}, outcome});
    }
    comparison.reason = reason;
    comparison.verdict = verdict_of(comparison);
    return comparison;
}

TEST(Judge, VerdictFollowsFromTheChecks) {
    using enum Outcome;
    EXPECT_EQ(with({same, ignored}).verdict, Verdict::same);
    EXPECT_EQ(with({same, better, different}).verdict, Verdict::better);
    EXPECT_EQ(with({worse, different}).verdict, Verdict::worse);
    EXPECT_EQ(with({worse, better}).verdict, Verdict::different);
    EXPECT_EQ(with({different}).verdict, Verdict::different);
    EXPECT_EQ(with({same}, "other grids").verdict, Verdict::inconclusive);
    EXPECT_EQ(with({worse}, "other grids").verdict, Verdict::worse);
    const std::vector<PairComparison> one_inconclusive{with({same}), with({same}, "other grids")};
    EXPECT_EQ(overall(one_inconclusive), Verdict::inconclusive);
    const std::vector<PairComparison> mixed{with({better}), with({same}), with({worse})};
    EXPECT_EQ(overall(mixed), Verdict::different);
    EXPECT_EQ(overall({}), Verdict::inconclusive);
}

/// A Gaussian spot, `gain` times as bright and `shift` deeper.
Image spot(double shift_m, double gain) {
    return synthetic::cartesian_image(1e-4, 81, 2.5e-5, 10e-3, 400, [&](double x, double z) {
        return gain * synthetic::gaussian(x, 1e-3) * synthetic::gaussian(z - 15e-3 - shift_m, 4e-4);
    });
}

TEST(CompareImages, SameDifferentAndIncomparable) {
    const Tolerances tolerances = Tolerances::load();
    EXPECT_EQ(compare_images(spot(0.0, 1.0), spot(0.0, 1.0), tolerances).verdict, Verdict::identical);
    EXPECT_EQ(compare_images(spot(0.0, 1.0), spot(0.0, 1.0005), tolerances).verdict, Verdict::same);
    const PairComparison moved = compare_images(spot(0.0, 1.0), spot(2e-6, 1.0), tolerances);
    EXPECT_EQ(moved.verdict, Verdict::different);
    ASSERT_EQ(moved.differences.size(), 1U);
    EXPECT_NE(moved.differences.front().as_if.find("+2.0"), std::string::npos) << moved.differences.front().as_if;
    EXPECT_NE(moved.differences.front().as_if.find("um deeper"), std::string::npos);
    Image shifted_grid = spot(0.0, 1.0);
    for (double& depth : std::get<CartesianGrid>(shifted_grid.grid).depth_m) depth += 1e-6;
    const PairComparison other = compare_images(spot(0.0, 1.0), shifted_grid, tolerances);
    EXPECT_EQ(other.verdict, Verdict::inconclusive);
    EXPECT_EQ(other.reason, "samples lie up to 0.001 mm from their former positions");
}

TEST(Output, JsonAndTextSayTheSame) {
    using enum Outcome;
    const std::vector<PairComparison> pairs{with({worse, same}), with({same}, "other <grids> & \"words\"")};
    const auto json = nlohmann::json::parse(comparison_json(pairs));
    EXPECT_EQ(json["format"], "echoloom comparison");
    EXPECT_EQ(json["format_version"], 1);
    EXPECT_EQ(json["verdict"], "worse");
    EXPECT_EQ(json["pairs"][0]["numbers"][0]["outcome"], "worse");
    EXPECT_EQ(json["pairs"][1]["verdict"], "inconclusive");
    const std::string text = comparison_text(pairs, false);
    EXPECT_EQ(text.find("WORSE: of 2 numbers judged, 1 worse.\n"), 0U) << text;
    EXPECT_NE(text.find("INCONCLUSIVE: other <grids> & \"words\"."), std::string::npos);
    EXPECT_NE(text.find("All 2 pairs: WORSE (1 WORSE, 1 INCONCLUSIVE)."), std::string::npos) << text;
    const std::string xml = comparison_junit(pairs);
    EXPECT_NE(xml.find("other &lt;grids&gt; &amp; &quot;words&quot;"), std::string::npos);
    EXPECT_EQ(xml.find("& \""), std::string::npos);
}

}  // namespace
}  // namespace echoloom
