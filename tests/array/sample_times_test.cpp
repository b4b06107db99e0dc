#include <gtest/gtest.h>

#include <cmath>

#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "tests/array/scan_examples.h"

namespace echoloom {
namespace {

/// First and last echo of the points an event serves, by trying many of them.
struct Span {
    double first_s = 1e9;
    double last_s = -1e9;
};
/// A point of the picture: on the event's line, in the sector of a phased array, or out from a place of the face.
Vec3 pixel(const TransmitEvent& event, const Probe& probe, double across, double range_m) {
    if (event.kind == TransmitKind::focused) {
        return event.origin_m + range_m * event.direction;
    }
    if (probe.kind == "phased") {
        return range_m * direction_at(across * 45.0 * degree);
    }
    const FacePlace place = face_place(probe, across * half_face_m(probe));
    return place.origin_m + range_m * place.normal;
}

double transmit_path_m(const TransmitEvent& event, const Vec3& point) {
    const Vec3 offset = point - event.origin_m;
    if (event.kind == TransmitKind::plane) {
        return offset.dot(event.direction);
    }
    return event.kind == TransmitKind::diverging
               ? (point - event.focus_m).norm() - (event.origin_m - event.focus_m).norm()
               : offset.norm();
}

Span echoes(const TransmitEvent& event, const Probe& probe, const Scan& scan) {
    Span span;
    for (int down = 0; down <= 4; ++down) {
        const double range_m = std::lerp(scan.min_depth_m, scan.max_depth_m, down / 4.0);
        for (int step = -24; step <= 24; ++step) {
            const Vec3 point = pixel(event, probe, step / 24.0, range_m);
            for (const int receiver : event.receivers) {
                const Vec3 back = point - probe.elements[static_cast<std::size_t>(receiver)].center_m;
                const double time_s = (transmit_path_m(event, point) + back.norm()) / scan.sound_speed_m_s;
                span.first_s = std::min(span.first_s, time_s);
                span.last_s = std::max(span.last_s, time_s);
            }
        }
    }
    return span;
}

void expect_nothing_cut_off(const Scan& scan, const Probe& probe) {
    double slack_s = 1e9;
    for (const TransmitEvent& event : scan.events) {
        const Span span = echoes(event, probe, scan);
        const double last_sample_s = event.start_time_s + static_cast<double>(scan.samples - 1) / scan.sampling_rate_Hz;
        EXPECT_LE(event.start_time_s, span.first_s + 1e-15);
        EXPECT_GE(last_sample_s, span.last_s + pulse_tail_s(probe.pulse, 1e-4));
        slack_s = std::min(slack_s, last_sample_s - span.last_s);
    }
    EXPECT_LT(slack_s, 1e-6) << "samples are recorded that no event needs";
}

TEST(Sampling, CutsOffNothingWanted) {
    const Probe probe = probe_of(64);
    const std::vector<Scan> scans = {
        scan_from(focused, probe), scan_from(focused, probe, {{"steer_deg", "25"}, {"min_depth_mm", "10"}}),
        scan_from(plane, probe, {{"angles_deg", "[-20, 0, 7]"}}),
        scan_from(plane, probe, {{"angles_deg", "[-20, 0, 7]"}, {"min_depth_mm", "20"}}), scan_from(full, probe)};
    for (const Scan& scan : scans) {
        expect_nothing_cut_off(scan, probe);
    }
}

TEST(Sampling, CutsOffNothingOfAnyKindOfArray) {
    const std::string diverging =
        "kind = 'diverging_waves'\nsampling_MHz = 40\ndepth_mm = 60\nsource_behind_mm = 12\nsource_count = 3\n";
    const std::string sector =
        "kind = 'sector'\nsampling_MHz = 40\ndepth_mm = 60\nfocus_depth_mm = 40\nlines = 7\n"
        "max_angle_deg = 60\n";
    const std::vector<Probe> probes = {probe_of(64), probe_from(curved), probe_from(phased),
                                       probe_from(rows, {{"elements", "16"}, {"rows", "3"}})};
    for (const Probe& probe : probes) {
        for (const char* least : {"0", "15"}) {
            SCOPED_TRACE(probe.kind + " " + least);
            const Override from{"min_depth_mm", least};
            const std::vector<Override> few = {from, {"transmit_elements", "8"}, {"receive_elements", "16"}};
            expect_nothing_cut_off(scan_from(focused, probe, few), probe);
            expect_nothing_cut_off(scan_from(diverging, probe, {from}), probe);
            expect_nothing_cut_off(scan_from(diverging, probe, {from, {"source_behind_mm", "90"}}), probe);
            expect_nothing_cut_off(scan_from(full, probe, {from}), probe);
            if (probe.radius_m == 0.0) {
                std::vector<Override> fanned = few;
                fanned.push_back({"fan_deg", "25"});
                expect_nothing_cut_off(scan_from(focused, probe, fanned), probe);
                expect_nothing_cut_off(scan_from(sector, probe, {from}), probe);
            }
        }
    }
}

TEST(Sampling, FrontsThatPassTheEndsOfACurvedArrayBeforeItsMiddleAreHeardThere) {
    const Probe probe = probe_from(curved);
    const std::string diverging =
        "kind = 'diverging_waves'\nsampling_MHz = 40\ndepth_mm = 60\nsource_behind_mm = 400\nsource_count = 1\n";
    // The ends lie 40 (1 - cos(16.25 / 40)) = 3.26 mm back and 15.81 mm aside, so the front passes them
    // 400 - hypot(396.74, 15.81) = 2.94 mm before its origin, and the outermost element is 0.25 mm from there.
    EXPECT_NEAR(scan_from(diverging, probe).events[0].start_time_s * c, -2.94e-3 + 0.25e-3, 0.05e-3);
}

TEST(Sampling, StartsAtTheEchoOfTheLeastDepth) {
    const Probe probe = probe_of(64);
    EXPECT_EQ(scan_from(focused, probe).events[5].start_time_s, 0.0);
    EXPECT_DOUBLE_EQ(scan_from(focused, probe, {{"min_depth_mm", "10"}}).events[5].start_time_s, 20e-3 / c);
    EXPECT_DOUBLE_EQ(scan_from(full, probe, {{"min_depth_mm", "10"}}).events[5].start_time_s, 20e-3 / c);
    EXPECT_DOUBLE_EQ(scan_from(plane, probe, {{"angles_deg", "[0]"}, {"min_depth_mm", "10"}}).events[0].start_time_s,
                     20e-3 / c);
    const double ahead_m = 9.6e-3 * std::sin(10.0 * degree);  // half the array's width, tilted
    EXPECT_NEAR(scan_from(plane, probe, {{"angles_deg", "[10]"}}).events[0].start_time_s, -ahead_m / c, 1e-15);
}

TEST(Sampling, AssumesTheStatedSoundSpeed) {
    const Scan slow = scan_from(focused, probe_of(64), {{"sound_speed_m_s", "1450"}, {"min_depth_mm", "5"}});
    EXPECT_DOUBLE_EQ(slow.sound_speed_m_s, 1450.0);
    EXPECT_DOUBLE_EQ(slow.events[0].start_time_s, 10e-3 / 1450.0);
    EXPECT_GT(slow.samples, scan_from(focused, probe_of(64), {{"min_depth_mm", "5"}}).samples);
}

TEST(Sampling, NoiseAndQuantizationAreOptional) {
    const Scan plain_scan = scan_from(focused, probe_of(64));
    EXPECT_FALSE(plain_scan.noise_snr_dB.has_value());
    EXPECT_FALSE(plain_scan.quantization_bits.has_value());
    const Scan noisy = scan_from(focused, probe_of(64), {{"noise_snr_dB", "30"}, {"quantization_bits", "12"}});
    EXPECT_EQ(noisy.noise_snr_dB, 30.0);
    EXPECT_EQ(noisy.quantization_bits, 12);
}

}  // namespace
}  // namespace echoloom
