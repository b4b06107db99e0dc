/// Lines from one point, lines that fan, lines along the radii of a curved array, and several focal zones.

#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "tests/array/scan_examples.h"
#include "tests/published/delays.h"

namespace echoloom {
namespace {

const std::string sector =
    "kind = 'sector'\nsampling_MHz = 40\ndepth_mm = 80\nfocus_depth_mm = 40\nlines = 9\nmax_angle_deg = 40\n";

double angle_deg(const TransmitEvent& event) {
    return std::atan2(event.direction.x(), event.direction.z()) / degree;
}

TEST(SectorScan, LinesLeaveOnePointAtEqualAngles) {
    const Scan scan = scan_from(sector, probe_from(phased));
    ASSERT_EQ(scan.events.size(), 9U);
    for (std::size_t i = 0; i < 9; ++i) {
        const TransmitEvent& event = scan.events[i];
        EXPECT_EQ(event.kind, TransmitKind::focused);
        EXPECT_EQ(event.origin_m, Vec3(0.0, 0.0, 0.0));
        EXPECT_NEAR(angle_deg(event), 10.0 * static_cast<double>(i) - 40.0, 1e-12);
        EXPECT_NEAR((event.focus_m - 40e-3 * event.direction).norm(), 0.0, 1e-17);
        EXPECT_EQ(event.line, static_cast<int>(i));
        EXPECT_EQ(active(event), from_to(0, 63)) << "all elements fire unless told otherwise";
        EXPECT_EQ(event.receivers, from_to(0, 63));
    }
    EXPECT_NEAR(angle_deg(scan_from(sector, probe_from(phased), {{"lines", "1"}}).events.at(0)), 0.0, 1e-15);
    EXPECT_EQ(active(scan_from(sector, probe_from(phased), {{"transmit_elements", "8"}}).events[0]), from_to(28, 35));
}

// The elements of each of these arrays lie at some of the places that the table of tests/published/delays.h has.
TEST(SectorScan, DelaysAreThePublishedOnes) {
    struct Row {
        int elements;
        const char* pitch_mm;
    };
    int compared = 0;
    for (const Row row : {Row{64, "0.3"}, Row{11, "1.0"}, Row{5, "5.0"}}) {
        const Probe probe =
            probe_from(phased, {{"elements", std::to_string(row.elements)}, {"pitch_mm", row.pitch_mm}});
        for (const auto& published : published::delays) {
            const Scan scan = scan_from(sector, probe,
                                        {{"focus_depth_mm", std::to_string(published.range_mm)},
                                         {"lines", "3"},
                                         {"max_angle_deg", std::to_string(std::max(published.angle_deg, 1.0))}});
            const TransmitEvent& event = scan.events[published.angle_deg > 0.0 ? 2 : 1];
            for (std::size_t e = 0; e < probe.elements.size(); ++e) {
                for (std::size_t i = 0; i < published::delay_x_mm.size(); ++i) {
                    if (std::abs(probe.elements[e].center_m.x() * 1e3 - published::delay_x_mm[i]) < 1e-9) {
                        EXPECT_NEAR(event.delay_s[e] * 1e9, published.delay_ns[i], 1e-6);
                        ++compared;
                    }
                }
            }
        }
    }
    // -9.45 and 9.45; -5, 1 and 5; -5, 5 and 10: at two angles each.
    EXPECT_EQ(compared, 16);
}

TEST(SectorScan, ReachesBeyond45DegreesAndIsRefusedBeyond80) {
    EXPECT_NEAR(angle_deg(scan_from(sector, probe_from(phased), {{"max_angle_deg", "80"}}).events.back()), 80.0, 1e-12);
    EXPECT_EQ(scan_error(sector, probe_from(phased), {{"max_angle_deg", "81"}}),
              "2 --set: max_angle_deg: is 81; give a number more than 0 and at most 80, in degrees");
    EXPECT_EQ(scan_error(sector, probe_from(phased), {{"lines", "0"}}),
              "2 --set: lines: is 0; give a whole number from 1 to 4096");
}

TEST(SectorScan, IsForFlatFaces) {
    EXPECT_EQ(scan_error(sector, probe_from(curved)),
              "2 scan.toml:1: kind: a sector from one point needs a flat array; give \"focused\", whose lines follow "
              "the radii of a curved one");
    EXPECT_EQ(scan_from(sector, probe_of(32)).events.size(), 9U);
    EXPECT_EQ(scan_from(sector, probe_from(rows)).channels(), 160U);
}

// ---- along radii -------------------------------------------------------------------------------------------------

TEST(CurvedScan, LinesFollowTheRadii) {
    const Probe probe = probe_from(curved);
    const Scan scan = scan_from(focused, probe);
    ASSERT_EQ(scan.events.size(), 65U);
    for (std::size_t i = 0; i < 65; ++i) {
        const TransmitEvent& event = scan.events[i];
        EXPECT_NEAR((event.origin_m - probe.elements[i].center_m).norm(), 0.0, 1e-16);
        EXPECT_NEAR((event.direction - probe.elements[i].normal).norm(), 0.0, 1e-14);
        EXPECT_NEAR((event.focus_m - event.origin_m).norm(), 40e-3, 1e-16);
        for (const int e : active(event)) {
            const auto element = static_cast<std::size_t>(e);
            const double path_m = (event.focus_m - probe.elements[element].center_m).norm();
            EXPECT_NEAR(event.delay_s[element] + path_m / c, 40e-3 / c, 1e-15);
        }
    }
    EXPECT_EQ(active(scan_from(focused, probe, {{"transmit_elements", "5"}}).events[20]), from_to(18, 22));
    EXPECT_EQ(scan.events[64].receivers, from_to(41, 64));
}

TEST(CurvedScan, SteeringTiltsEachLineFromItsRadius) {
    const Probe probe = probe_from(curved);
    const Scan scan = scan_from(focused, probe, {{"steer_deg", "12"}});
    for (std::size_t i = 0; i < 65; ++i) {
        const double radius_deg = (static_cast<double>(i) - 32.0) * 0.5 / 40.0 / degree;
        EXPECT_NEAR(angle_deg(scan.events[i]), radius_deg + 12.0, 1e-11);
    }
}

// ---- fan ---------------------------------------------------------------------------------------------------------

TEST(FanScan, LinesMeetInAPointBehindTheArray) {
    const Scan scan = scan_from(focused, probe_of(64), {{"fan_deg", "20"}});
    ASSERT_EQ(scan.events.size(), 64U);
    const double half_m = 31.5 * 0.3e-3;
    const Vec3 apex(0.0, 0.0, -half_m / std::tan(20.0 * degree));
    for (std::size_t i = 0; i < 64; ++i) {
        const TransmitEvent& event = scan.events[i];
        EXPECT_NEAR(angle_deg(event), 20.0 * (2.0 * static_cast<double>(i) / 63.0 - 1.0), 1e-12);
        const Vec3 from_apex = (event.origin_m - apex).normalized();
        EXPECT_NEAR((from_apex - event.direction).norm(), 0.0, 1e-14);
        EXPECT_EQ(event.origin_m.z(), 0.0);
    }
    EXPECT_NEAR(scan.events.front().origin_m.x(), -half_m, 1e-17);
    EXPECT_NEAR(scan.events.back().origin_m.x(), half_m, 1e-17);
}

TEST(FanScan, IsRefusedWhereLinesCannotFan) {
    EXPECT_EQ(scan_error(focused, probe_from(curved), {{"fan_deg", "20"}}),
              "2 --set: fan_deg: the lines of a curved array fan by themselves; remove this key");
    EXPECT_EQ(scan_error(focused, probe_of(64), {{"fan_deg", "20"}, {"steer_deg", "5"}}),
              "2 --set: fan_deg: given beside steer_deg; keep one of the two");
    EXPECT_EQ(scan_error(focused, probe_of(64), {{"fan_deg", "20"}, {"lines", "1"}}),
              "2 --set: fan_deg: one line cannot fan; give lines = 2 or more, or remove this key");
    EXPECT_EQ(scan_error(focused, probe_of(64), {{"fan_deg", "61"}}),
              "2 --set: fan_deg: is 61; give a number more than 0 and at most 60, in degrees");
}

// ---- zones -------------------------------------------------------------------------------------------------------

const std::string zones =
    "kind = 'focused'\nsampling_MHz = 40\ndepth_mm = 60\nfocus_depths_mm = [10, 25, 45]\ntransmit_f_number = 2\n"
    "receive_elements = 24\n";

TEST(Zones, AreEventsOfOneLine) {
    const Scan scan = scan_from(zones, probe_of(64));
    ASSERT_EQ(scan.events.size(), 3U * 64U);
    std::map<int, std::vector<double>> depths;
    for (const TransmitEvent& event : scan.events) {
        depths[event.line].push_back(std::round((event.focus_m - event.origin_m).norm() * 1e9) / 1e6);
    }
    EXPECT_EQ(depths.size(), 64U);
    for (const auto& [line, focused_at] : depths) {
        EXPECT_EQ(focused_at, (std::vector<double>{10, 25, 45}));
    }
    // 10, 25 and 45 mm at F/2 are 5, 12.5 and 22.5 mm: 16.7, 41.7 and 75 elements, of which there are 64.
    EXPECT_EQ(active(scan_from(zones, probe_of(64), {{"lines", "1"}}).events[0]).size(), 17U);
    EXPECT_EQ(active(scan_from(zones, probe_of(64), {{"lines", "1"}}).events[1]).size(), 42U);
    EXPECT_EQ(active(scan_from(zones, probe_of(64), {{"lines", "1"}}).events[2]).size(), 64U);
    EXPECT_EQ(scan.events[0].receivers, scan.events[2].receivers);
}

TEST(Zones, OfASectorToo) {
    const Scan scan = scan_from(
        "kind = 'sector'\nsampling_MHz = 40\ndepth_mm = 80\nfocus_depths_mm = [20, 60]\n"
        "lines = 5\nmax_angle_deg = 40\n",
        probe_from(phased));
    ASSERT_EQ(scan.events.size(), 10U);
    EXPECT_EQ(scan.events[0].direction, scan.events[1].direction);
    EXPECT_EQ(scan.events[9].line, 4);
}

TEST(Zones, AreRefusedOutOfOrderTwiceOrTooMany) {
    EXPECT_EQ(scan_error(zones, probe_of(64), {{"focus_depth_mm", "20"}}),
              "2 scan.toml:4: focus_depths_mm: given beside focus_depth_mm; keep the list for several zones, or the "
              "number");
    EXPECT_EQ(scan_error(zones, probe_of(64), {{"focus_depths_mm", "[10, 10]"}}),
              "2 --set: focus_depths_mm: entry 1 is 10, no deeper than the one before; give depths that rise");
    EXPECT_EQ(scan_error(zones, probe_of(64), {{"focus_depths_mm", "[-1, 10]"}}),
              "2 --set: focus_depths_mm: is -1: the focus would lie at or behind the array; give a number more than 0, "
              "in mm");
    EXPECT_EQ(scan_error(zones, probe_of(64), {{"focus_depths_mm", "[]"}}),
              "2 --set: focus_depths_mm: holds 0 depths; give 1 to 16 depths, in mm");
    EXPECT_EQ(scan_error(zones, probe_of(64), {{"focus_depths_mm", "[1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17]"}}),
              "2 --set: focus_depths_mm: holds 17 depths; give 1 to 16 depths, in mm");
    EXPECT_EQ(scan_error(zones, probe_of(64), {{"lines", "1400"}, {"line_spacing_mm", "0.01"}}),
              "2 scan.toml:4: focus_depths_mm: 1400 lines of 3 zones are too many; give at most 4096 events in all");
}

// ---- rows --------------------------------------------------------------------------------------------------------

TEST(RowScan, FiresEveryRowOfAColumnAndFocusesThemInElevationToo) {
    const Probe probe = probe_from(rows);
    const Scan scan =
        scan_from(focused, probe, {{"transmit_elements", "4"}, {"receive_elements", "6"}, {"lines", "1"}});
    const TransmitEvent& event = scan.events.at(0);
    EXPECT_EQ(active(event), from_to(14 * 5, 18 * 5 - 1));
    EXPECT_EQ(event.receivers.size(), 30U);
    EXPECT_EQ(event.receivers.front() % 5, 0);
    for (const int e : active(event)) {
        const auto element = static_cast<std::size_t>(e);
        const double path_m = (event.focus_m - probe.elements[element].center_m).norm();
        EXPECT_NEAR(event.delay_s[element] + path_m / c, 40e-3 / c, 1e-15);
    }
    // The outer rows, 3.2 mm off, fire first: sqrt(40^2 + 3.2^2) - 40 = 0.1278 mm earlier than the middle one.
    EXPECT_NEAR((event.delay_s[16 * 5] - event.delay_s[16 * 5 + 2]) * c, -0.1278e-3, 1e-6);
    EXPECT_EQ(scan_error(focused, probe, {{"transmit_elements", "33"}}),
              "2 --set: transmit_elements: is 33, but the probe \"bench\" has 32 elements in a row; give at most that");
}

}  // namespace
}  // namespace echoloom
