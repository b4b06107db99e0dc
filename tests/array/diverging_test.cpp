#include <gtest/gtest.h>

#include <cmath>

#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "tests/array/scan_examples.h"

namespace echoloom {
namespace {

const std::string diverging =
    "kind = 'diverging_waves'\nsampling_MHz = 40\ndepth_mm = 60\nsource_behind_mm = 12\nsource_count = 5\n";

TEST(DivergingWaves, ComeFromVirtualSourcesBehindTheFace) {
    const Probe probe = probe_of(64);
    const Scan scan = scan_from(diverging, probe);
    ASSERT_EQ(scan.events.size(), 5U);
    for (std::size_t i = 0; i < 5; ++i) {
        const TransmitEvent& event = scan.events[i];
        const double x_m = 19.2e-3 * (static_cast<double>(i) / 4.0 - 0.5);  // across the whole face
        EXPECT_EQ(event.kind, TransmitKind::diverging);
        EXPECT_NEAR((event.origin_m - Vec3(x_m, 0.0, 0.0)).norm(), 0.0, 1e-17);
        EXPECT_NEAR((event.focus_m - Vec3(x_m, 0.0, -12e-3)).norm(), 0.0, 1e-17);
        EXPECT_EQ(event.direction, Vec3::UnitZ());
        EXPECT_EQ(event.line, static_cast<int>(i));
        EXPECT_EQ(event.receivers, from_to(0, 63));
        EXPECT_EQ(active(event), from_to(0, 63));
        for (std::size_t e = 0; e < 64; ++e) {
            // By hand: the front reaches an element this much after it passed the origin.
            const double off_m = probe.elements[e].center_m.x() - x_m;
            EXPECT_NEAR(event.delay_s[e], (std::hypot(12e-3, off_m) - 12e-3) / c, 1e-18);
        }
    }
}

TEST(DivergingWaves, TakeAListOfPlacesASpanAndAnAperture) {
    const Probe probe = probe_of(64);
    std::string listed = diverging;
    listed.replace(listed.find("source_count = 5"), 16, "sources_mm = [-3, 5]");
    const Scan scan = scan_from(listed, probe, {{"transmit_elements", "9"}, {"transmit_window", "hann"}});
    ASSERT_EQ(scan.events.size(), 2U);
    EXPECT_NEAR(scan.events[0].focus_m.x(), -3e-3, 1e-18);
    EXPECT_EQ(active(scan.events[0]), from_to(18, 26)) << "nine around index (-3 + 9.45) / 0.3 = 21.5";
    EXPECT_NEAR(scan.events[0].weight[22], 1.0, 1e-15);
    const Scan span = scan_from(diverging, probe, {{"source_span_mm", "10"}, {"source_count", "3"}});
    EXPECT_NEAR(span.events[0].focus_m.x(), -5e-3, 1e-18);
    EXPECT_NEAR(span.events[2].focus_m.x(), 5e-3, 1e-18);
    EXPECT_EQ(scan_from(diverging, probe, {{"source_count", "1"}}).events.at(0).focus_m.x(), 0.0);
}

TEST(DivergingWaves, LieBehindTheNormalOfACurvedFace) {
    const Probe probe = probe_from(curved);
    const Scan scan = scan_from(diverging, probe, {{"source_behind_mm", "40"}});
    for (const TransmitEvent& event : scan.events) {
        // As far behind as the radius, all sources are its centre, and all elements fire at once.
        EXPECT_NEAR((event.focus_m - Vec3(0.0, 0.0, -40e-3)).norm(), 0.0, 1e-16);
        for (const double delay_s : event.delay_s) {
            EXPECT_NEAR(delay_s, 0.0, 1e-19);
        }
    }
    const TransmitEvent shallow = scan_from(diverging, probe).events.front();
    EXPECT_NEAR((shallow.origin_m - 12e-3 * shallow.direction - shallow.focus_m).norm(), 0.0, 1e-17);
    EXPECT_NEAR(std::atan2(shallow.direction.x(), shallow.direction.z()), -16.25 / 40.0, 1e-14);
}

TEST(DivergingWaves, AreRefusedOffTheFaceGivenTwiceOrNotAtAll) {
    EXPECT_EQ(scan_error(diverging, probe_of(64), {{"sources_mm", "[0]"}}),
              "2 --set: sources_mm: given beside source_count; keep one of the two");
    EXPECT_EQ(
        scan_error("kind = 'diverging_waves'\nsampling_MHz = 40\ndepth_mm = 60\nsource_behind_mm = 12\n", probe_of(64)),
        "2 scan.toml: sources_mm: missing; give sources_mm, or source_count");
    EXPECT_EQ(scan_error("kind = 'diverging_waves'\nsampling_MHz = 40\ndepth_mm = 60\nsource_behind_mm = 12\n"
                         "sources_mm = [0, 9.7]\n",
                         probe_of(64)),
              "2 scan.toml:5: sources_mm: entry 1 is 9.7; give a number from -9.6 to 9.6, in mm");
    EXPECT_EQ(scan_error(diverging, probe_of(64), {{"source_behind_mm", "-12"}}),
              "2 --set: source_behind_mm: is -12; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(scan_error(diverging, probe_of(64), {{"source_span_mm", "20"}}),
              "2 --set: source_span_mm: is 20; give a number from 0 to 19.2, in mm");
    EXPECT_EQ(scan_error(diverging, probe_of(64), {{"transmit_elements", "65"}}),
              "2 --set: transmit_elements: is 65, but the probe \"bench\" has 64 elements; give at most that");
    EXPECT_EQ(scan_error(diverging, probe_of(64), {{"source_count", "5000"}}),
              "2 --set: source_count: is 5000; give a whole number from 1 to 4096");
}

}  // namespace
}  // namespace echoloom
