#include "recon/image/scan_captions.h"

#include <gtest/gtest.h>

#include "recon/image/description.h"
#include "recon/image/frame_rate.h"
#include "recon/image/panel_captions.h"
#include "sim/array/scan.h"

namespace echoloom {
namespace {

constexpr double mm = 1e-3;

const std::string flat = "elements = 128\npitch_mm = 0.3\nwidth_mm = 0.27\nheight_mm = 5\n";

Probe probe_of(const std::string& kind, const std::string& shape) {
    return read_probe(Settings::from_text(
        "kind = \"" + kind + "\"\n" + shape + "center_MHz = 5\nbandwidth_percent = 60\nbaffle = \"rigid\"\n",
        "probe.toml"));
}

RecordingInfo info_of(const Probe& probe, const std::string& scan_text) {
    const Scan scan = read_scan(Settings::from_text(scan_text + "sampling_MHz = 20\n", "scan.toml"), probe);
    RecordingInfo info;
    info.probe = probe;
    info.events = scan.events;
    info.head = scan.head;
    info.scan_depth_m = scan.max_depth_m;
    info.sampling_rate_Hz = scan.sampling_rate_Hz;
    info.samples = scan.samples;
    info.source.scan = scan.source;
    return info;
}

std::string caption(const Probe& probe, const std::string& scan_text) {
    return describe_scan(info_of(probe, scan_text));
}

TEST(ScanCaptions, EveryArrayHasItsOwn) {
    EXPECT_EQ(describe_array(probe_of("linear", flat)), "128\u00a0elements, 5\u00a0MHz");
    EXPECT_EQ(describe_array(probe_of("curved", flat + "radius_mm = 60\n")),
              "128\u00a0elements on an arc of radius 60\u00a0mm, 5\u00a0MHz");
    EXPECT_EQ(describe_array(probe_of("rows", flat + "rows = 5\nrow_pitch_mm = 5.1\n")),
              "1.5-D array of 128\u00a0columns and 5\u00a0rows, 5\u00a0MHz");
    EXPECT_EQ(describe_array(probe_of("annular", "rings = 6\nradius_mm = 10\n")),
              "6\u00a0rings, diameter 20\u00a0mm, 5\u00a0MHz");
}

TEST(ScanCaptions, EveryScanHasItsOwn) {
    const Probe linear = probe_of("linear", flat);
    const std::string lines = "kind = \"focused\"\nlines = 9\ntransmit_elements = 16\ndepth_mm = 80\n";
    EXPECT_EQ(caption(linear, lines + "focus_depth_mm = 40\n"), "9 focused lines, transmit focus 40\u00a0mm");
    EXPECT_EQ(caption(linear, lines + "focus_depth_mm = 40\nsteer_deg = -15\n"),
              "9 focused lines steered by \u221215\u00b0, transmit focus 40\u00a0mm");
    EXPECT_EQ(caption(linear, lines + "focus_depth_mm = 40\nfan_deg = 20\n"),
              "9 focused lines over \u00b120\u00b0, transmit focus 40\u00a0mm");
    EXPECT_EQ(caption(linear, lines + "focus_depths_mm = [20, 40, 60]\n"),
              "9 focused lines, transmit foci 20, 40 and 60\u00a0mm");
    EXPECT_EQ(caption(linear, lines + "focus_depths_mm = [10, 20, 30, 40, 50, 60]\n"),
              "9 focused lines, 6 transmit foci from 10\u00a0mm to 60\u00a0mm");
    const Probe curved = probe_of("curved", flat + "radius_mm = 60\n");
    EXPECT_EQ(caption(curved, lines + "focus_depth_mm = 40\nline_spacing_mm = 4\n"),
              "9 focused lines over \u00b115.3\u00b0, transmit focus 40\u00a0mm");  // 16 mm of arc
    const std::string sector = "kind = \"sector\"\nlines = 9\nmax_angle_deg = 45\nfocus_depth_mm = 40\ndepth_mm = 80\n";
    EXPECT_EQ(caption(probe_of("phased", flat), sector),
              "9 focused lines from one point over \u00b145\u00b0, transmit focus 40\u00a0mm");
    EXPECT_EQ(caption(linear, "kind = \"plane_waves\"\nangles_deg = [-10, 0, 10]\ndepth_mm = 80\n"),
              "3 plane waves over \u00b110\u00b0");
    EXPECT_EQ(caption(linear, "kind = \"diverging_waves\"\nsource_behind_mm = 10\nsource_count = 5\ndepth_mm = 80\n"),
              "5 diverging waves from virtual sources 10\u00a0mm behind the array");
    EXPECT_EQ(caption(linear, "kind = \"full_matrix\"\ndepth_mm = 80\n"), "128 single-element transmissions");
}

// One wheel of five heads at 3,000 rpm: common practice, no source.
const std::string wheel =
    "kind = \"swept\"\nheads = 5\nrotation_rate_rpm = 3000\nwindow_half_angle_deg = 30\naxis_to_face_mm = 8\n"
    "focus_depth_mm = 50\ndepth_mm = 77\n";

TEST(ScanCaptions, ASweepStatesItsRotationRate) {
    const Probe rings = probe_of("annular", "rings = 6\nradius_mm = 6\n");
    // A round trip to 77 mm takes 100 us; a head crosses 60 degrees in 3.333 ms: 33 lines.
    const RecordingInfo rotating = info_of(rings, wheel);
    EXPECT_EQ(describe_scan(rotating),
              "33 lines of a mechanical sector over \u00b129.1\u00b0, head rotating at 3000\u00a0rpm, "
              "transmit focus 50\u00a0mm");
    EXPECT_EQ(frame_rate_caption(rotating), "frame rate 250\u00a0Hz");
    EXPECT_EQ(caption(rings, wheel + "standing = true\n"),
              "33 lines of a mechanical sector over \u00b129.1\u00b0, head standing still for each, "
              "transmit focus 50\u00a0mm");
    RecordingInfo acquired = rotating;  // whose scan is not in the file
    acquired.source.scan.clear();
    EXPECT_EQ(frame_rate_caption(acquired), "frame rate at most 303\u00a0Hz (33 lines, 77\u00a0mm)");
}

// c / (2 depth lines zones): J. T. Bushberg et al., The Essential Physics of Medical Imaging, ch. 14 (from memory);
// recomputed by tests/published/recompute_timing.py.
TEST(FrameRate, CaptionSpellsTheNumbersOut) {
    RecordingInfo info = info_of(
        probe_of("linear", flat),
        "kind = \"focused\"\nlines = 128\nfocus_depths_mm = [50, 100]\ntransmit_elements = 16\ndepth_mm = 150\n");
    EXPECT_EQ(frame_rate_caption(info), "frame rate at most 20.1\u00a0Hz (128 lines \u00d7 2 zones, 150\u00a0mm)");
    info.events.pop_back();  // unequal zones
    EXPECT_EQ(frame_rate_caption(info), "frame rate at most 20.1\u00a0Hz (255 events, 150\u00a0mm)");
    info.events.clear();
    EXPECT_EQ(frame_rate_caption(info), "");
    EXPECT_FALSE(frame_rate(info).has_value());
}

Image image_of(const Probe& probe, const std::string& scan, const std::string& title) {
    Image image;
    image.recording = info_of(probe, scan);
    image.recipe.name = "r";
    image.recipe.title = title;
    return image;
}

TEST(PanelCaptions, TitlesSayWhatDiffersAndTheCaptionWhatIsShared) {
    const std::string scan =
        "kind = \"focused\"\nlines = 9\nfocus_depth_mm = 40\ntransmit_elements = 16\ndepth_mm = 77\n";
    const Probe probe = probe_of("linear", flat);
    Probe other = probe_of("curved", flat + "radius_mm = 60\n");
    using Titles = std::vector<std::string>;

    const std::vector<Image> recipes{image_of(probe, scan, "One"), image_of(probe, scan, "Two")};
    EXPECT_EQ(panel_titles(recipes, {}), (Titles{"One", "Two"}));
    EXPECT_EQ(shared_caption(recipes), describe_recording(recipes[0].recording) + ".");

    const std::vector<Image> zones{image_of(probe, scan, "One"),
                                   image_of(probe, scan + "receive_elements = 16\nsteer_deg = 10\n", "One")};
    EXPECT_EQ(panel_titles(zones, {})[1], "9 focused lines steered by 10\u00b0, transmit focus 40\u00a0mm");

    other.name = "bent";
    Probe named = probe;
    named.name = "straight";
    const std::vector<Image> probes{image_of(named, scan, "One"), image_of(other, scan, "Two")};
    EXPECT_EQ(panel_titles(probes, {})[0], "straight; 9 focused lines, transmit focus 40\u00a0mm; One");
    EXPECT_EQ(shared_caption(probes), frame_rate_caption(probes[0].recording) + ".");

    const std::vector<Image> twins{recipes[0], recipes[0]};
    const Titles files{"a/left.h5", "b/right.h5"};
    EXPECT_EQ(panel_titles(twins, files), (Titles{"One; left", "One; right"}));

    const std::string deeper =
        "kind = \"focused\"\nlines = 9\nfocus_depth_mm = 40\ntransmit_elements = 16\ndepth_mm = 154\n";
    const std::vector<Image> depths{recipes[0], image_of(probe, deeper, "Two")};
    EXPECT_TRUE(
        shared_caption(depths).ends_with("A: frame rate at most 1111\u00a0Hz (9 lines, 77\u00a0mm); "
                                         "B: frame rate at most 556\u00a0Hz (9 lines, 154\u00a0mm)."))
        << shared_caption(depths);
}

}  // namespace
}  // namespace echoloom
