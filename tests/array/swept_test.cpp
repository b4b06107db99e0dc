#include <gtest/gtest.h>

#include <Eigen/Geometry>
#include <cmath>

#include "sim/array/face.h"
#include "sim/array/rotor.h"
#include "sim/array/transmit.h"
#include "tests/array/scan_examples.h"

namespace echoloom {
namespace {

// One wheel of five heads at 3,000 turns a minute (common practice, no source), 36 degrees to either side: a head
// crosses the window in a fifth of a turn, 4 ms, and a round trip to 100 mm takes 2 x 0.1 m / 1540 m/s = 129.87 us.
TEST(SweptScan, OfTheWheelHas30LinesASweepAnd250SweepsASecond) {
    const Scan scan = scan_from(wheel, probe_from(rings));
    EXPECT_EQ(scan.events.size(), 30U);
    const Rotor rotor{5, 50.0, 36.0 * degree, 8e-3};
    EXPECT_NEAR(sweep_time_s(rotor), 4e-3, 1e-15);
    EXPECT_NEAR(sweep_rate_Hz(rotor), 250.0, 1e-12);
    EXPECT_EQ(lines_in_sweep(rotor, 0.2 / c), 30);
    ASSERT_TRUE(scan.head.has_value());
    EXPECT_NEAR(scan.head->rotation_rate_rad_s, 2.0 * std::numbers::pi * 50.0, 1e-12);
    EXPECT_DOUBLE_EQ(scan.head->axis_to_face_m, 8e-3);
}

// Sweep rates of one head that are real: some ten a second (common practice, no source).
TEST(SweptScan, OfASlowHeadHasRoomForEveryLine) {
    for (const double sweeps : {10.0, 12.5, 15.0, 30.0}) {
        const Rotor rotor{1, sweeps, 40.0 * degree, 8e-3};
        EXPECT_DOUBLE_EQ(sweep_rate_Hz(rotor), sweeps);
        // 80 of 360 degrees of a turn, in round trips to 150 mm.
        const double trips = 80.0 / 360.0 / sweeps / (0.3 / c);
        EXPECT_EQ(lines_in_sweep(rotor, 0.3 / c), static_cast<int>(trips));
        EXPECT_GE(lines_in_sweep(rotor, 0.3 / c), 38);
    }
    // A whole number of trips that rounding might put just below itself.
    EXPECT_EQ(lines_in_sweep(Rotor{5, 50.0, 36.0 * degree, 0.0}, 4e-3 / 40.0), 40);
}

TEST(SweptScan, LinesShareTheWindowEquallyAndLookOutOfTheHead) {
    const Scan scan = scan_from(wheel, probe_from(rings), {{"lines_per_sweep", "24"}});
    ASSERT_EQ(scan.events.size(), 24U);
    for (std::size_t i = 0; i < 24; ++i) {
        const TransmitEvent& event = scan.events[i];
        const double angle = (3.0 * (static_cast<double>(i) + 0.5) - 36.0) * degree;
        EXPECT_NEAR(event.head_angle_rad, angle, 1e-15);
        EXPECT_NEAR((event.direction - direction_at(angle)).norm(), 0.0, 1e-15);
        // The face goes round an axis 8 mm behind its broadside place.
        EXPECT_NEAR((event.origin_m - (Vec3(0.0, 0.0, -8e-3) + 8e-3 * direction_at(angle))).norm(), 0.0, 1e-17);
        EXPECT_NEAR((event.focus_m - event.origin_m - 50e-3 * event.direction).norm(), 0.0, 1e-17);
        EXPECT_EQ(event.line, static_cast<int>(i));
        EXPECT_EQ(event.receivers, from_to(0, 5));
    }
    // Each line has the time that the head takes for its step.
    EXPECT_NEAR((scan.events[1].head_angle_rad - scan.events[0].head_angle_rad) / scan.head->rotation_rate_rad_s,
                4e-3 / 24.0, 1e-15);
}

TEST(SweptScan, RingsMeetAtTheFocusOnTheAxis) {
    const Probe probe = probe_from(rings);
    const Scan scan = scan_from(wheel, probe);
    for (const TransmitEvent& event : scan.events) {
        for (std::size_t ring = 0; ring < probe.elements.size(); ++ring) {
            const double path_m = std::hypot(50e-3, ring_radius_m(probe.elements[ring]));
            EXPECT_NEAR(event.delay_s[ring] + path_m / c, 50e-3 / c, 1e-18);
            EXPECT_EQ(event.weight[ring], 1.0);
        }
    }
    const Scan inner = scan_from(wheel, probe, {{"transmit_rings", "2"}, {"transmit_window", "hann"}});
    EXPECT_EQ(active(inner.events[0]), from_to(0, 1));
    const double at = ring_radius_m(probe.elements[1]) / (2.0 * probe.elements[1].outer_m);
    EXPECT_NEAR(inner.events[0].weight[1], 0.5 + 0.5 * std::cos(2.0 * std::numbers::pi * at), 1e-15);
}

TEST(SweptScan, ReceivesUntilTheDeepestEchoIsBackAtTheRotatedHead) {
    const Probe probe = probe_from(rings);
    for (const char* standing : {"false", "true"}) {
        const Scan scan = scan_from(wheel, probe, {{"standing", standing}});
        EXPECT_EQ(scan.head->rotation_rate_rad_s == 0.0, std::string(standing) == "true");
        for (const TransmitEvent& event : scan.events) {
            const Vec3 end = event.origin_m + 100e-3 * event.direction;
            // Where the head is when that echo comes, by the way out and back.
            double back_s = 0.2 / c;
            for (int again = 0; again < 20; ++again) {
                const HeadPose pose =
                    head_pose(*scan.head, event.head_angle_rad + scan.head->rotation_rate_rad_s * back_s);
                const Vec3 seen = pose.to_head(end);
                const double aside_m = std::hypot(seen.x(), seen.y()) + 7e-3;
                back_s = (100e-3 + std::hypot(seen.z(), aside_m)) / c;
            }
            const double last_s = event.start_time_s + static_cast<double>(scan.samples - 1) / scan.sampling_rate_Hz;
            EXPECT_GE(last_s, back_s + pulse_tail_s(probe.pulse, 1e-4));
            EXPECT_LT(last_s, back_s + pulse_tail_s(probe.pulse, 1e-4) + 0.5e-6);
        }
    }
}

TEST(HeadPose, TurnsAboutItsAxis) {
    const HeadMotion head{8e-3, 0.0};
    const HeadPose straight = head_pose(head, 0.0);
    EXPECT_EQ(straight.origin_m, Vec3(0.0, 0.0, 0.0));
    EXPECT_EQ(straight.to_head(Vec3(1e-3, 2e-3, 3e-3)), Vec3(1e-3, 2e-3, 3e-3));
    const HeadPose turned = head_pose(head, 30.0 * degree);
    EXPECT_GT(turned.normal.x(), 0.0);
    EXPECT_NEAR(turned.lateral.dot(turned.normal), 0.0, 1e-16);
    EXPECT_NEAR((turned.lateral.cross(Vec3::UnitY()) - turned.normal).norm(), 0.0, 1e-16);
    EXPECT_NEAR((turned.to_head(turned.origin_m + 4e-3 * turned.normal) - Vec3(0.0, 0.0, 4e-3)).norm(), 0.0, 1e-17);
    // Nothing moves against the axis.
    EXPECT_NEAR((turned.to_head(Vec3(0.0, 0.0, -8e-3)) - Vec3(0.0, 0.0, -8e-3)).norm(), 0.0, 1e-17);
}

// ---- what physics cannot honour ----------------------------------------------------------------------------------

std::string error(std::vector<Override> overrides) {
    return scan_error(wheel, probe_from(rings), std::move(overrides));
}

TEST(SweptErrors, MoreLinesThanTheRoundTripAllows) {
    EXPECT_EQ(
        error({{"lines_per_sweep", "31"}}),
        "2 --set: lines_per_sweep: is 31, but a round trip to 100 mm takes 129.9 us, and a head crosses the window "
        "in 4000 us; give at most 30, lower rotation_rate_rpm, or give a smaller depth_mm");
    EXPECT_EQ(error({{"lines_per_sweep", "30"}}), "no error");
    EXPECT_EQ(error({{"lines_per_sweep", "31"}, {"depth_mm", "99"}}), "no error");
    EXPECT_EQ(
        error({{"rotation_rate_rpm", "100000"}, {"depth_mm", "150"}}),
        "2 --set: rotation_rate_rpm: a round trip to 150 mm takes 194.8 us, and a head crosses the window in 120 us: "
        "no line is received to its end; lower rotation_rate_rpm, widen the window, or give a smaller depth_mm");
    EXPECT_EQ(error({{"rotation_rate_rpm", "1"}, {"lines_per_sweep", "5000"}}),
              "2 --set: lines_per_sweep: is 5000; give at most 4096");
}

TEST(SweptErrors, TwoHeadsInTheWindowAtOnce) {
    EXPECT_EQ(error({{"window_half_angle_deg", "40"}}),
              "2 --set: window_half_angle_deg: is 40: with 5 heads the next one would enter the window before this one "
              "has left it; give at most 36, or fewer heads");
    EXPECT_EQ(error({{"window_half_angle_deg", "40"}, {"heads", "4"}}), "no error");
    EXPECT_EQ(error({{"heads", "7"}}).substr(0, 52), "2 scan.toml:6: window_half_angle_deg: is 36: with 7 ");
}

TEST(SweptErrors, AnnularArraysAreSweptAndNoOthersAre) {
    EXPECT_EQ(scan_error(focused, probe_from(rings)),
              "2 scan.toml:1: kind: the probe \"bench\" is annular, for a rotating head; give \"swept\"");
    EXPECT_EQ(scan_error(full, probe_from(rings)),
              "2 scan.toml:1: kind: the probe \"bench\" is annular, for a rotating head; give \"swept\"");
    EXPECT_EQ(scan_error(wheel, probe_of(64)),
              "2 scan.toml:1: kind: \"swept\" is for an annular array on a rotating head, and the probe \"bench\" is "
              "linear; give "
              "another "
              "kind, or an annular probe");
}

TEST(SweptErrors, AbsurdOrMissingValues) {
    EXPECT_EQ(error({{"heads", "0"}}), "2 --set: heads: is 0; give a whole number from 1 to 32");
    EXPECT_EQ(error({{"rotation_rate_rpm", "0"}}).substr(0, 35), "2 --set: rotation_rate_rpm: is 0; g");
    EXPECT_EQ(error({{"axis_to_face_mm", "-1"}}),
              "2 --set: axis_to_face_mm: is -1; give a number from 0 to 200, in mm");
    EXPECT_EQ(error({{"transmit_rings", "7"}}), "2 --set: transmit_rings: is 7; give a whole number from 1 to 6");
    EXPECT_EQ(error({{"focus_depth_mm", "-5"}}),
              "2 --set: focus_depth_mm: is -5; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(error({{"standing", "3"}}), "2 --set: standing: is 3; give true or false");
}

}  // namespace
}  // namespace echoloom
