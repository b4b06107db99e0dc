#include "sim/array/probe.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <set>

#include "sim/array/face.h"
#include "sim/base/shipped.h"
#include "tests/base/message.h"
#include "tests/base/temporary_folder.h"

namespace echoloom {
namespace {

const std::string small_array =
    "kind = 'linear'\nelements = 5\npitch_mm = 0.3\nwidth_mm = 0.25\nheight_mm = 5\nelevation_focus_mm = 40\n"
    "center_MHz = 5\nbandwidth_percent = 60\nbaffle = 'soft'\n";

Probe probe_from(const std::string& text, std::vector<Override> overrides = {}) {
    return read_probe(Settings::from_text(text, "small.toml", overrides));
}

std::string error_with(const std::string& key, const std::string& value) {
    return message_of([&] { probe_from(small_array, {{key, value}}); });
}

TEST(Probe, IsAFlatRowCentredOnTheOrigin) {
    const Probe probe = probe_from(small_array);
    EXPECT_EQ(probe.name, "small");
    EXPECT_EQ(probe.kind, "linear");
    EXPECT_EQ(probe.baffle, Baffle::soft);
    EXPECT_EQ(probe.source, small_array);
    EXPECT_DOUBLE_EQ(probe.center_Hz, 5e6);
    EXPECT_DOUBLE_EQ(probe.bandwidth_fraction, 0.6);
    EXPECT_DOUBLE_EQ(probe.pitch_m, 0.3e-3);
    EXPECT_DOUBLE_EQ(probe.elevation_focus_m, 40e-3);
    ASSERT_EQ(probe.elements.size(), 5U);
    for (std::size_t i = 0; i < 5; ++i) {
        EXPECT_NEAR((probe.elements[i].center_m - Vec3((static_cast<double>(i) - 2.0) * 0.3e-3, 0, 0)).norm(), 0,
                    1e-18);
        EXPECT_EQ(probe.elements[i].normal, Vec3::UnitZ());
        EXPECT_DOUBLE_EQ(probe.elements[i].width_m, 0.25e-3);
        EXPECT_DOUBLE_EQ(probe.elements[i].height_m, 5e-3);
        EXPECT_EQ(probe.elements[i].gain, 1.0);
        EXPECT_EQ(probe.elements[i].delay_s, 0.0);
    }
    EXPECT_DOUBLE_EQ(std::get<GaussianPulse>(probe.pulse).center_Hz, 5e6);
    EXPECT_NEAR(probe.wavelength_m(1540.0), 0.308e-3, 1e-12);
}

TEST(Probe, HasNoLensUnlessGivenOne) {
    std::string text = small_array;
    text.erase(text.find("elevation_focus_mm"), std::string("elevation_focus_mm = 40\n").size());
    EXPECT_TRUE(std::isinf(probe_from(text).elevation_focus_m));
}

TEST(Probe, FaultsHaveTheStatedSpreadAndDeadElementsAreSilent) {
    const Probe probe = probe_from(small_array, {{"elements", "1000"},
                                                 {"faults.dead", "[3, 17]"},
                                                 {"faults.gain_spread_dB", "2"},
                                                 {"faults.phase_spread_deg", "20"},
                                                 {"faults.seed", "9"}});
    double gain_square = 0.0;
    double phase_square = 0.0;
    for (std::size_t i = 0; i < 1000; ++i) {
        const Element& element = probe.elements[i];
        if (i == 3 || i == 17) {
            EXPECT_EQ(element.gain, 0.0);
            continue;
        }
        EXPECT_GT(element.gain, 0.0);
        gain_square += std::pow(20.0 * std::log10(element.gain), 2) / 998.0;
        phase_square += std::pow(element.delay_s * probe.center_Hz * 360.0, 2) / 1000.0;
    }
    // A standard deviation from 1000 values is known to 1 / sqrt(2000) = 2.2 %; four of those.
    EXPECT_NEAR(std::sqrt(gain_square), 2.0, 0.18);
    EXPECT_NEAR(std::sqrt(phase_square), 20.0, 1.8);
}

TEST(Probe, FaultsFollowTheirSeed) {
    const auto gain = [](const std::string& seed) {
        return probe_from(small_array, {{"faults.gain_spread_dB", "2"}, {"faults.seed", seed}}).elements[2].gain;
    };
    EXPECT_EQ(gain("4"), gain("4"));
    EXPECT_NE(gain("4"), gain("5"));
}

TEST(Probe, RefusesWhatNoArrayCanBe) {
    EXPECT_EQ(message_of([] {
                  probe_from(
                      "kind = 'linear'\nelements = 5\npitch_mm = 0.3\nwidth_mm = 0.35\n"
                      "height_mm = 5\ncenter_MHz = 5\nbandwidth_percent = 60\n");
              }),
              "2 small.toml:4: width_mm: the elements overlap: 0.35 mm wide, 0.3 mm apart; give at most the pitch");
    EXPECT_EQ(error_with("elements", "0"), "2 --set: elements: is 0; give a whole number from 1 to 1024");
    EXPECT_EQ(error_with("elements", "1025"), "2 --set: elements: is 1025; give a whole number from 1 to 1024");
    EXPECT_EQ(error_with("pitch_mm", "-0.3"),
              "2 --set: pitch_mm: is -0.3; give a number more than 0 and at most 20, in mm");
    EXPECT_EQ(error_with("height_mm", "nan"),
              "2 --set: height_mm: is not a number (nan); give a number more than 0 and at most 100, in mm");
    EXPECT_EQ(error_with("center_MHz", "5000000"),
              "2 --set: center_MHz: is 5000000; give a number from 0.05 to 50, in MHz");
    EXPECT_EQ(error_with("bandwidth_percent", "200"),
              "2 --set: bandwidth_percent: is 200; give a number from 1 to 199, in percent");
    EXPECT_EQ(error_with("elevation_focus_mm", "0"),
              "2 --set: elevation_focus_mm: is 0; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(error_with("kind", "curve"),
              "2 --set: kind: is the text \"curve\"; give one of \"linear\", \"curved\", \"phased\", \"rows\", "
              "\"annular\"; did you mean 'curved'?");
    EXPECT_EQ(error_with("baffle", "stiff"), "2 --set: baffle: is the text \"stiff\"; give one of \"rigid\", \"soft\"");
    EXPECT_EQ(error_with("faults.dead", "[5]"), "2 --set: faults.dead: entry 0 is 5; give a number from 0 to 4");
    EXPECT_EQ(error_with("faults.dead", "[1.5]"),
              "2 --set: faults.dead: 1.5 is no element; give whole numbers from 0 to 4");
    EXPECT_EQ(error_with("faults.gain_spread", "1"),
              "2 --set: faults.gain_spread: unknown key, did you mean 'faults.gain_spread_dB'?");
    EXPECT_EQ(message_of([] { probe_from("kind = 'linear'\npich_mm = 3\n" + small_array.substr(16)); }),
              "2 small.toml:2: pich_mm: unknown key, did you mean 'pitch_mm'?");
    EXPECT_EQ(message_of([] { probe_from("kind = 'linear'\nelements = 5\ncenter_MHz = 5\n"); }),
              "2 small.toml: bandwidth_percent: missing; give a number from 1 to 199, in percent");
}

class ImpulseResponse : public testing::Test {
  protected:
    /// The probe whose response file, beside its TOML, holds `response`.
    Probe probe(const std::string& response) const {
        folder_.write("echo.txt", response);
        return load_probe(folder_.write("probe.toml", small_array + "impulse_response_file = 'echo.txt'\n"));
    }
    std::string error(const std::string& response) const {
        std::string message = message_of([&] { probe(response); });
        const std::string name = (folder_ / "echo.txt").string();
        const auto where = message.find(name);
        return where == std::string::npos ? message : message.replace(where, name.size(), "echo.txt");
    }
    TemporaryFolder folder_;
};

TEST_F(ImpulseResponse, IsReadFromBesideTheProbe) {
    const auto pulse =
        std::get<SampledPulse>(probe("# time_us amplitude\n-0.02 0\n-0.01 1\n0.00, 2\n0.01 -1\n\n").pulse);
    EXPECT_NEAR(pulse.sampling_rate_Hz, 100e6, 1.0);
    EXPECT_NEAR(pulse.start_s, -0.02e-6, 1e-20);
    EXPECT_EQ(pulse.samples, (std::vector<double>{0.0, 1.0, 2.0, -1.0}));
}

TEST_F(ImpulseResponse, RefusesWhatIsNone) {
    EXPECT_EQ(error("0 1\n1 x\n"), "2 echo.txt:2: not two numbers; give a time in microseconds and an amplitude");
    EXPECT_EQ(error("0 1\n1 nan\n"), "2 echo.txt:2: not two numbers; give a time in microseconds and an amplitude");
    EXPECT_EQ(error("0 1 2\n"), "2 echo.txt:1: not two numbers; give a time in microseconds and an amplitude");
    EXPECT_EQ(error("0 1\n1 2\n3 2\n4 1\n"), "2 echo.txt:2: times are not equally spaced; give samples at one rate");
    EXPECT_EQ(error("3 1\n2 2\n1 2\n0 1\n"), "2 echo.txt:1: times are not equally spaced; give samples at one rate");
    EXPECT_EQ(error("0 1\n"), "2 echo.txt: only 1 sample; give at least 4");
    EXPECT_EQ(error("0 0\n1 0\n2 0\n3 0\n"), "2 echo.txt: every amplitude is zero; give the echo of a point target");
    const std::string probe = folder_.write("lonely.toml", small_array + "impulse_response_file = 'none.txt'\n");
    EXPECT_EQ(message_of([&] { load_probe(probe); }),
              "2 " + (folder_ / "none.txt").string() +
                  ": no impulse response can be read here; give a text file of time_us and amplitude");
}

TEST(ShippedProbes, AreOfEveryKindAndThreeFrequencies) {
    std::set<std::string> kinds;
    std::set<double> centers;
    for (const std::string& name : shipped_names(ShippedKind::probe)) {
        const Probe probe = load_probe(name);
        EXPECT_EQ(probe.name, name);
        kinds.insert(probe.kind);
        centers.insert(probe.center_Hz);
    }
    EXPECT_EQ(kinds, (std::set<std::string>{"annular", "curved", "linear", "phased", "rows"}));
    EXPECT_GE(centers.size(), 3U);
}

// Half a wavelength and a whole one; faces alike; 128 pitches of 0.48 mm on an arc of 60 mm: 58.7 degrees.
TEST(ShippedProbes, KeepWhatTheirCommentsPromise) {
    constexpr double c = 1540.0;
    const Probe fine = load_probe("phased_2.5MHz");
    const Probe coarse = load_probe("phased_coarse");
    EXPECT_NEAR(fine.pitch_m, 0.5 * fine.wavelength_m(c), 1e-9);
    EXPECT_NEAR(coarse.pitch_m, coarse.wavelength_m(c), 1e-9);
    EXPECT_NEAR(half_face_m(fine), half_face_m(coarse), 1e-12);
    const Probe rows = load_probe("rows_5MHz");
    const Probe lens = load_probe("lens_5MHz");
    EXPECT_EQ(column_count(rows), column_count(lens));
    EXPECT_EQ(rows.pitch_m, lens.pitch_m);
    const auto last = static_cast<std::size_t>(rows.rows - 1);
    const double row_pitch_m = rows.elements[1].center_m.y() - rows.elements[0].center_m.y();
    const double rows_height_m = rows.elements[last].center_m.y() - rows.elements[0].center_m.y() + row_pitch_m;
    EXPECT_NEAR(rows_height_m, lens.elements[0].height_m, 0.03e-3);
    for (const char* name : {"linear_3MHz", "linear_5MHz", "linear_9MHz"}) {
        const Probe flat = load_probe(name);
        EXPECT_NEAR(flat.pitch_m / flat.wavelength_m(c), 0.94, 0.006) << name;
        EXPECT_GE(flat.elements.size(), 64U) << name;
    }
    const Probe general = load_probe("linear_5MHz");
    EXPECT_NEAR(2.0 * half_face_m(general), 58.0e-3, 1e-9);
    EXPECT_NEAR(general.elevation_focus_m / general.elements[0].height_m, 7.5, 1e-9);
    const Probe curved = load_probe("curved_3MHz");
    EXPECT_NEAR(2.0 * half_face_m(curved) / curved.radius_m, 1.0, 1e-9);
    const Probe annular = load_probe("annular_5MHz");
    EXPECT_EQ(annular.elements.size(), 6U);
    EXPECT_NEAR(annular.elements.back().outer_m, 7e-3, 1e-15);
}

}  // namespace
}  // namespace echoloom
