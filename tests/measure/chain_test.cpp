// The whole chain against the prediction, which shares no line with it: echoes from the engine, through the file,
// formed into an image and measured.

#include <gtest/gtest.h>
#include <unistd.h>

#include "phantoms/phantom.h"
#include "recon/measure/interpolate.h"
#include "recon/measure/report.h"
#include "recon/measure/slice_width.h"
#include "sim/engine/simulate.h"
#include "sim/recording/recording_reader.h"

namespace echoloom {
namespace {

constexpr const char* points = R"(
[medium]
sound_speed_m_s = 1540.0
attenuation_dB_cm_MHz = 0.5
[[point]]
position_mm = [0.0, 0.0, 20.0]
[[point]]
position_mm = [0.0, 0.0, 40.0]
[[point]]
position_mm = [0.0, 0.0, 60.0]
)";

std::filesystem::path simulated(const std::string& scan_name, const std::vector<Override>& overrides,
                                const std::string& probe_name = "linear_5MHz", const std::string& targets = points) {
    const auto path = std::filesystem::temp_directory_path() /
                      ("echoloom_chain_" + std::to_string(::getpid()) + "_" + scan_name + ".h5");
    const Phantom phantom = read_phantom(Settings::from_text(targets, "points.toml"));
    const Probe probe = load_probe(probe_name);
    EngineSettings settings;
    settings.quiet = true;
    simulate_to_file(phantom, probe, load_scan(scan_name, probe, overrides), settings, path);
    return path;
}

/// Of the -6 dB width.
constexpr double place_tolerance = 0.03;

void expect_as_predicted(const std::filesystem::path& path, const std::vector<std::string>& recipes,
                         const std::vector<Override>& recipe_settings = {}, double tolerance = 0.01) {
    RecordingReader recording(path);
    for (const std::string& name : recipes) {
        const Recipe recipe = load_recipe(name, recipe_settings);
        const Image image = form_image(beamform(recording, recipe, true), recipe, recording.info());
        for (const PointReport& point : report_image(image).points) {
            const double depth = point.measured.true_m.z() * 1e3;
            ASSERT_TRUE(point.measured.found) << name << " at " << depth << " mm: " << point.measured.reason;
            ASSERT_TRUE(point.ratio()) << name << " at " << depth << " mm: " << point.measured.lateral_6dB.reason;
            EXPECT_NEAR(*point.ratio(), 1.0, tolerance) << name << " at " << depth << " mm";
            // And its position: displaced by a rotating head, or by directivity that pulls a steered beam towards
            // broadside.
            const LevelWidth& half = point.measured.lateral_6dB;
            EXPECT_NEAR(0.5 * (half.left_m + half.right_m), point.predicted_lateral_error_m,
                        place_tolerance * *point.predicted_lateral_6dB_m)
                << name << " at " << depth << " mm";
            ASSERT_TRUE(point.measured.axial_6dB.width_m && point.predicted_axial_6dB_m);
            EXPECT_NEAR(*point.measured.axial_6dB.width_m / *point.predicted_axial_6dB_m, 1.0, 0.02)
                << name << " at " << depth << " mm";
        }
    }
    std::filesystem::remove(path);
}

TEST(Chain, LinesAreAsWideAsPredicted) {
    const auto path =
        simulated("lines_focus_40mm", {{"lines", "61"}, {"line_spacing_mm", "0.145"}, {"depth_mm", "65"}});
    expect_as_predicted(path, {"dynamic_focus", "growing_aperture", "apodized"});
}

TEST(Chain, PlaneWavesAreAsWideAsPredicted) {
    expect_as_predicted(simulated("plane_waves_31", {{"depth_mm", "65"}}), {"plane_wave_compound"},
                        {{"grid.x_mm", "[-5.0, 5.0]"}});
}

// Lines along radii, 0.125 mm apart along the face, a quarter of the pitch: from line to line the middle of the
// transmit aperture jumps by up to half a pitch, of which theory knows that of one line.
TEST(Chain, ACurvedArrayIsAsPredicted) {
    const auto path =
        simulated("curved_lines", {{"lines", "79"}, {"line_spacing_mm", "0.125"}, {"depth_mm", "65"}}, "curved_3MHz");
    expect_as_predicted(path, {"growing_aperture"}, {}, 0.015);
}

constexpr const char* aside = R"(
[medium]
sound_speed_m_s = 1540.0
[[point]]
position_mm = [0.0, 0.0, 40.0]
[[point]]
position_mm = [5.0, 0.0, 50.0]
)";

// Lines from one point. Between them the aperture looks shorter or longer, which theory leaves out: 1 % here.
TEST(Chain, ASectorIsAsPredicted) {
    const auto path = simulated("sector_lines", {{"lines", "61"}, {"max_angle_deg", "10.0"}, {"depth_mm", "58"}},
                                "phased_2.5MHz", aside);
    expect_as_predicted(path, {"dynamic_focus"});
}

TEST(Chain, FocalZonesAreBlendedAsPredicted) {
    const auto path = simulated("zones_3", {{"lines", "51"}, {"line_spacing_mm", "0.145"}, {"depth_mm", "65"}});
    expect_as_predicted(path, {"dynamic_focus"});
}

// Lines a pitch apart, so that each has its aperture about it in the same way.
TEST(Chain, RowsAreAsPredictedForPointsAndWires) {
    const auto path = simulated("rows_lines", {{"lines", "31"}, {"depth_mm", "50"}}, "rows_5MHz", R"(
[medium]
sound_speed_m_s = 1540.0
[[point]]
position_mm = [0.0, 0.0, 30.0]
[[wire]]
position_mm = [0.0, 45.0]
length_mm = 20.0
strength_dB = -20.0
)");
    expect_as_predicted(path, {"dynamic_focus"}, {{"receive.max_elements", "20"}});
}

TEST(Chain, DivergingWavesAreAsPredicted) {
    const auto path = simulated("diverging_11", {{"depth_mm", "58"}}, "phased_2.5MHz", aside);
    expect_as_predicted(path, {"diverging_sector"},
                        {{"grid.sector_half_angle_deg", "15.0"}, {"grid.min_depth_mm", "36.0"}});
}

// A head that rotates by 3000 degrees per second and a stationary one: the first displaces a point, here by 0.07 beam
// widths; both are as wide as predicted. A wire is seen by rings.
TEST(Chain, RingsOnARotatingHeadAreAsPredicted) {
    for (const char* standing : {"false", "true"}) {
        const auto path = simulated("swept_slow",
                                    {{"rotation_rate_rpm", "500.0"},
                                     {"window_half_angle_deg", "10.0"},
                                     {"lines_per_sweep", "73"},
                                     {"standing", standing},
                                     {"depth_mm", "70"}},
                                    "annular_5MHz", R"(
[medium]
sound_speed_m_s = 1540.0
[[point]]
position_mm = [0.0, 0.0, 30.0]
[[point]]
position_mm = [4.0, 0.0, 50.0]
[[wire]]
position_mm = [0.0, 62.0]
length_mm = 10.0
strength_dB = -20.0
)");
        expect_as_predicted(path, {"ring_dynamic"});
    }
}

/// The image of one point by the only line of a scan.
Image image_of_point(const Vec3& point_mm, const std::string& probe, const std::string& scan,
                     const std::vector<Override>& overrides, const Recipe& recipe) {
    std::string targets = "[medium]\nsound_speed_m_s = 1540.0\n[[point]]\nposition_mm = [";
    for (const double place : {point_mm.x(), point_mm.y(), point_mm.z()}) {
        targets += (targets.back() == '[' ? "" : ", ") + std::to_string(place);
    }
    const auto path = simulated(scan, overrides, probe, targets + "]\n");
    RecordingReader recording(path);
    Image image = form_image(beamform(recording, recipe, true), recipe, recording.info());
    std::filesystem::remove(path);
    return image;
}

// A point at the edge of the predicted slice answers with half the amplitude of one in its middle.
TEST(Chain, TheSliceIsAsThickAsPredicted) {
    struct Case {
        const char* probe;
        const char* scan;
        std::vector<Override> overrides;
        const char* recipe;
        double depth_mm;
    };
    const std::vector<Override> one_line{{"lines", "1"}, {"depth_mm", "65"}};
    const std::vector<Override> one_sweep{{"lines_per_sweep", "1"}, {"standing", "true"}, {"depth_mm", "65"}};
    for (const Case& test : {Case{"lens_5MHz", "rows_lines", one_line, "growing_aperture", 40.0},
                             Case{"lens_5MHz", "rows_lines", one_line, "growing_aperture", 60.0},
                             Case{"rows_5MHz", "rows_lines", one_line, "growing_aperture", 50.0},
                             Case{"annular_5MHz", "swept_standing", one_sweep, "ring_dynamic", 50.0}}) {
        const Recipe recipe = load_recipe(test.recipe);
        const double depth = test.depth_mm;
        const Image middle = image_of_point({0.0, 0.0, depth}, test.probe, test.scan, test.overrides, recipe);
        const auto width = elevation_width_m(middle.recording, recipe, {0.0, 0.0, depth * 1e-3}, 0.5);
        ASSERT_TRUE(width.width_m) << width.reason;
        // Out of focus the maximum of the profile may lie off the plane.
        const Profile profile = elevation_profile(middle.recording, recipe, {0.0, 0.0, depth * 1e-3});
        const double maximum = std::ranges::max(profile.amplitude) / profile.amplitude[profile.amplitude.size() / 2];
        const double y = 0.5e3 * *width.width_m;
        const Vec3 aside(0.0, y, std::sqrt(depth * depth - y * y));
        const Image edge = image_of_point(aside, test.probe, test.scan, test.overrides, recipe);
        // At one depth, interpolated between samples: axially both echoes rise and fall within a few of them.
        const auto line = [](const Image& image) { return SampleView{image.envelope, 1, image.depths}; };
        const auto sample = std::ranges::max_element(middle.envelope) - middle.envelope.begin();
        const FieldPeak peak = refine_peak(line(middle), 0, static_cast<std::size_t>(sample));
        const double level = interpolate(line(edge), 0.0, peak.depth) / peak.value;
        EXPECT_NEAR(level, 0.5 * maximum, 0.01)
            << test.probe << ", " << test.depth_mm << " mm, slice of " << 2.0 * y << " mm";
    }
}

}  // namespace
}  // namespace echoloom
