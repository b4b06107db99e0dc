// The whole chain against the prediction, which shares no line with it: echoes from the engine, through the file,
// formed into an image and measured.

#include <gtest/gtest.h>
#include <unistd.h>

#include "phantoms/phantom.h"
#include "recon/measure/report.h"
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

std::filesystem::path simulated(const std::string& scan_name, const std::vector<Override>& overrides) {
    const auto path = std::filesystem::temp_directory_path() /
                      ("echoloom_chain_" + std::to_string(::getpid()) + "_" + scan_name + ".h5");
    const Phantom phantom = read_phantom(Settings::from_text(points, "points.toml"));
    const Probe probe = load_probe("flat_5MHz");
    EngineSettings settings;
    settings.quiet = true;
    simulate_to_file(phantom, probe, load_scan(scan_name, probe, overrides), settings, path);
    return path;
}

void expect_as_predicted(const std::filesystem::path& path, const std::vector<std::string>& recipes) {
    RecordingReader recording(path);
    for (const std::string& name : recipes) {
        const Recipe recipe = load_recipe(name);
        const Image image = form_image(beamform(recording, recipe, true), recipe, recording.info());
        for (const PointReport& point : report_image(image).points) {
            const double depth = point.measured.true_m.z() * 1e3;
            ASSERT_TRUE(point.measured.found) << name << " at " << depth << " mm: " << point.measured.reason;
            ASSERT_TRUE(point.ratio()) << name << " at " << depth << " mm: " << point.measured.lateral_half.reason;
            EXPECT_NEAR(*point.ratio(), 1.0, 0.01) << name << " at " << depth << " mm";
            ASSERT_TRUE(point.measured.axial_half.width_m && point.predicted_axial_half_m);
            EXPECT_NEAR(*point.measured.axial_half.width_m / *point.predicted_axial_half_m, 1.0, 0.02)
                << name << " at " << depth << " mm";
        }
    }
    std::filesystem::remove(path);
}

TEST(Chain, LinesAreAsWideAsPredicted) {
    const auto path = simulated("lines_focus_40mm", {{"lines", "61"}, {"line_spacing_mm", "0.15"}, {"depth_mm", "65"}});
    expect_as_predicted(path, {"dynamic_focus", "growing_aperture", "apodized"});
}

TEST(Chain, PlaneWavesAreAsWideAsPredicted) {
    expect_as_predicted(simulated("plane_waves_31", {{"depth_mm", "65"}}), {"plane_wave_compound"});
}

}  // namespace
}  // namespace echoloom
