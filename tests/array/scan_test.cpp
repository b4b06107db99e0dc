#include "sim/array/scan.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <set>

#include "sim/array/face.h"
#include "sim/array/window.h"
#include "sim/base/shipped.h"
#include "tests/array/scan_examples.h"
#include "tests/base/message.h"

namespace echoloom {
namespace {

// ---- focused -----------------------------------------------------------------------------------------------------

TEST(FocusedScan, HasOneLinePerElementUnlessToldOtherwise) {
    const Scan scan = scan_from(focused, probe_of(64));
    ASSERT_EQ(scan.events.size(), 64U);
    for (std::size_t i = 0; i < 64; ++i) {
        EXPECT_NEAR(scan.events[i].origin_m.x(), (static_cast<double>(i) - 31.5) * 0.3e-3, 1e-15);
        EXPECT_EQ(scan.events[i].line, static_cast<int>(i));
        EXPECT_EQ(scan.events[i].kind, TransmitKind::focused);
        EXPECT_EQ(scan.events[i].weight.size(), 64U);
        EXPECT_EQ(scan.events[i].delay_s.size(), 64U);
    }
    EXPECT_EQ(scan.name, "scan");
    EXPECT_EQ(scan.source, focused);
    EXPECT_EQ(scan.channels(), 24U);
}

TEST(FocusedScan, LinesAreCentredOnTheArray) {
    const Scan scan = scan_from(focused, probe_of(64), {{"lines", "3"}, {"line_spacing_mm", "2"}});
    ASSERT_EQ(scan.events.size(), 3U);
    EXPECT_NEAR(scan.events[0].origin_m.x(), -2e-3, 1e-15);
    EXPECT_NEAR(scan.events[1].origin_m.x(), 0.0, 1e-15);
    EXPECT_NEAR(scan.events[2].origin_m.x(), 2e-3, 1e-15);
}

TEST(FocusedScan, EveryWaveletReachesTheFocusWhenTheFrontDoes) {
    const Probe probe = probe_of(64);
    for (const char* steer : {"0", "-12.5", "20"}) {
        for (const TransmitEvent& event : scan_from(focused, probe, {{"steer_deg", steer}}).events) {
            const double together_s = (event.focus_m - event.origin_m).norm() / c;
            EXPECT_NEAR(together_s, 40e-3 / c, 1e-18);
            for (const int i : active(event)) {
                const auto element = static_cast<std::size_t>(i);
                const double path_m = (event.focus_m - probe.elements[element].center_m).norm();
                EXPECT_NEAR(event.delay_s[element] + path_m / c, together_s, 1e-15);
            }
        }
    }
}

TEST(FocusedScan, SteeredLinesTiltTowardsPositiveX) {
    const TransmitEvent event = scan_from(focused, probe_of(64), {{"steer_deg", "15"}}).events.front();
    EXPECT_NEAR(std::atan2(event.direction.x(), event.direction.z()), 15.0 * degree, 1e-15);
    EXPECT_NEAR((event.focus_m - event.origin_m - 40e-3 * event.direction).norm(), 0.0, 1e-17);
    EXPECT_GT(event.focus_m.x(), event.origin_m.x());
}

TEST(FocusedScan, ApertureIsTheNearestElementsAndLosesThosePastTheEnds) {
    const Probe probe = probe_of(64);
    // Lines halfway between elements see an even aperture symmetrically: element 32 lies half a pitch right of x = 0.
    const Scan between = scan_from(focused, probe, {{"lines", "1"}});
    EXPECT_EQ(active(between.events[0]), from_to(24, 39));
    // Lines on elements see an odd one symmetrically.
    const Scan odd = scan_from(focused, probe, {{"transmit_elements", "5"}});
    EXPECT_EQ(active(odd.events[20]), from_to(18, 22));
    EXPECT_EQ(active(odd.events[0]), from_to(0, 2));
    EXPECT_EQ(active(odd.events[63]), from_to(61, 63));
    // An even aperture on an element lies half a pitch to the right, on every line alike.
    const Scan even = scan_from(focused, probe);
    for (int line = 0; line < 64; ++line) {
        EXPECT_EQ(active(even.events[static_cast<std::size_t>(line)]),
                  from_to(std::max(0, line - 7), std::min(63, line + 8)));
    }
}

TEST(FocusedScan, ReceiversShiftInwardAtTheEnds) {
    const Scan scan = scan_from(focused, probe_of(64));
    EXPECT_EQ(scan.events[0].receivers, from_to(0, 23));
    EXPECT_EQ(scan.events[32].receivers, from_to(21, 44));
    EXPECT_EQ(scan.events[63].receivers, from_to(40, 63));
}

TEST(FocusedScan, ReceivesOn64ElementsOrAllThereAre) {
    const std::string text =
        "kind = 'focused'\nsampling_MHz = 40\ndepth_mm = 60\nfocus_depth_mm = 40\ntransmit_elements = 8\n";
    EXPECT_EQ(scan_from(text, probe_of(128)).channels(), 64U);
    EXPECT_EQ(scan_from(text, probe_of(32)).channels(), 32U);
}

TEST(FocusedScan, TransmitFNumberSetsTheAperture) {
    std::string text = focused;
    text.replace(text.find("transmit_elements = 16"), 22, "transmit_f_number = 4.0");
    // 40 mm / 4 / 0.3 mm = 33.3 elements.
    EXPECT_EQ(active(scan_from(text, probe_of(64), {{"lines", "1"}}).events[0]).size(), 33U);
    EXPECT_EQ(active(scan_from(text, probe_of(64), {{"lines", "1"}, {"transmit_f_number", "1"}}).events[0]).size(),
              64U);
}

TEST(FocusedScan, TransmitWindowLiesOverTheApertureNotTheArray) {
    const Scan scan = scan_from(focused, probe_of(64), {{"transmit_window", "hann"}});
    const std::vector<double> window = window_at_centers({WindowKind::hann, 0.0}, 16);
    for (int i = 0; i < 16; ++i) {
        EXPECT_EQ(scan.events[32].weight[static_cast<std::size_t>(25 + i)], window[static_cast<std::size_t>(i)]);
    }
    EXPECT_EQ(scan.events[0].weight[0], window[7]);
    const Scan chebyshev =
        scan_from(focused, probe_of(64), {{"transmit_window", "dolph_chebyshev"}, {"transmit_window_parameter", "40"}});
    EXPECT_EQ(chebyshev.events[32].weight[25], window_at_centers({WindowKind::dolph_chebyshev, 40.0}, 16)[0]);
}

// ---- plane waves and single elements -----------------------------------------------------------------------------

TEST(PlaneWaves, AreEquallySpacedAndSymmetric) {
    const Probe probe = probe_of(64);
    const Scan scan = scan_from(plane, probe, {{"angle_count", "5"}, {"max_angle_deg", "10"}});
    ASSERT_EQ(scan.events.size(), 5U);
    for (std::size_t i = 0; i < 5; ++i) {
        const TransmitEvent& event = scan.events[i];
        const double angle = (5.0 * static_cast<double>(i) - 10.0) * degree;
        EXPECT_NEAR((event.direction - Vec3(std::sin(angle), 0.0, std::cos(angle))).norm(), 0.0, 1e-15);
        EXPECT_EQ(event.origin_m, Vec3(0.0, 0.0, 0.0));
        EXPECT_TRUE(std::isnan(event.focus_m.x()));
        EXPECT_EQ(event.receivers, from_to(0, 63));
        EXPECT_EQ(event.line, static_cast<int>(i));
        for (std::size_t e = 0; e < 64; ++e) {
            EXPECT_NEAR(event.delay_s[e], probe.elements[e].center_m.x() * std::sin(angle) / c, 1e-18);
            EXPECT_EQ(event.weight[e], 1.0);
        }
    }
}

TEST(PlaneWaves, TakeAListOfAngles) {
    const Scan scan = scan_from(plane, probe_of(8), {{"angles_deg", "[3, -4]"}, {"transmit_window", "hamming"}});
    ASSERT_EQ(scan.events.size(), 2U);
    EXPECT_NEAR(scan.events[1].direction.x(), std::sin(-4.0 * degree), 1e-15);
    EXPECT_EQ(scan.events[0].weight, window_at_centers({WindowKind::hamming, 0.0}, 8));
    EXPECT_EQ(scan_from(plane, probe_of(8), {{"angle_count", "1"}}).events[0].direction, Vec3(0.0, 0.0, 1.0));
}

TEST(FullMatrix, FiresEachElementAloneAndReceivesOnAll) {
    const Probe probe = probe_of(8);
    const Scan scan = scan_from(full, probe);
    ASSERT_EQ(scan.events.size(), 8U);
    for (int i = 0; i < 8; ++i) {
        const TransmitEvent& event = scan.events[static_cast<std::size_t>(i)];
        EXPECT_EQ(active(event), std::vector<int>{i});
        EXPECT_EQ(event.origin_m, probe.elements[static_cast<std::size_t>(i)].center_m);
        EXPECT_EQ(event.receivers, from_to(0, 7));
        EXPECT_EQ(event.delay_s[static_cast<std::size_t>(i)], 0.0);
        EXPECT_EQ(event.line, i);
    }
}

// ---- bad input ---------------------------------------------------------------------------------------------------

std::string error(const std::string& text, std::vector<Override> overrides, int elements = 64) {
    const Probe probe = probe_of(elements);
    return message_of([&] { scan_from(text, probe, std::move(overrides)); });
}

TEST(ScanErrors, FocusAtOrBehindTheArray) {
    EXPECT_EQ(error("kind = 'focused'\nsampling_MHz = 40\ndepth_mm = 60\nfocus_depth_mm = -40\n", {}),
              "2 scan.toml:4: focus_depth_mm: is -40: the focus would lie at or behind the array; give a number more "
              "than 0, in mm");
    EXPECT_EQ(error(focused, {{"focus_depth_mm", "0"}}),
              "2 --set: focus_depth_mm: is 0: the focus would lie at or behind the array; give a number more than 0, "
              "in mm");
}

TEST(ScanErrors, LinesOffTheArray) {
    EXPECT_EQ(error(focused, {{"lines", "66"}}),
              "2 --set: lines: 66 lines 0.3 mm apart would start off the array, which is 19.2 mm wide; give at most 65 "
              "lines or a smaller line_spacing_mm");
    EXPECT_EQ(error(focused, {{"lines", "65"}}), "no error");
}

// A Gaussian of 60 % is at a hundredth of its peak 3.035 standard deviations above 5 MHz: 8.86635 MHz (recomputed by
// tests/published/recompute_pulse.py). Nyquist's twice that, a tenth more to spare: common practice, no source.
TEST(ScanErrors, SamplingTooSlowForThePulse) {
    EXPECT_EQ(
        error(focused, {{"sampling_MHz", "15"}}),
        "2 --set: sampling_MHz: is 15, too slow for the probe \"bench\", whose pulse reaches 8.86635 MHz (-40 dB); "
        "give at least 19.6");
    EXPECT_EQ(error(focused, {{"sampling_MHz", "19.6"}}), "no error");
}

TEST(ScanErrors, MoreElementsThanTheProbeHas) {
    EXPECT_EQ(error(focused, {{"receive_elements", "12"}}, 12),
              "2 scan.toml:5: transmit_elements: is 16, but the probe \"bench\" has 12 elements; give at most that");
    EXPECT_EQ(error(focused, {}, 20),
              "2 scan.toml:6: receive_elements: is 24, but the probe \"bench\" has 20 elements; give at most that");
}

TEST(ScanErrors, TransmitApertureGivenTwiceOrNotAtAll) {
    EXPECT_EQ(error(focused, {{"transmit_f_number", "2"}}),
              "2 scan.toml:5: transmit_elements: given beside transmit_f_number; keep one of the two");
    EXPECT_EQ(error("kind = 'focused'\nsampling_MHz = 40\ndepth_mm = 60\nfocus_depth_mm = 40\n", {}),
              "2 scan.toml: transmit_elements: missing; give transmit_elements or transmit_f_number");
}

TEST(ScanErrors, AnglesGivenTwiceOrNotAtAllOrTooSteep) {
    EXPECT_EQ(error(plane, {}), "2 scan.toml: angles_deg: missing; give angles_deg, or angle_count and max_angle_deg");
    EXPECT_EQ(error(plane, {{"angles_deg", "[1]"}, {"angle_count", "3"}}),
              "2 --set: angles_deg: given beside angle_count or max_angle_deg; keep the list or the pair");
    EXPECT_EQ(error(plane, {{"angles_deg", "[]"}}),
              "2 --set: angles_deg: holds 0 angles; give 1 to 4096 angles, in degrees");
    EXPECT_EQ(error(plane, {{"angles_deg", "[0, 91]"}}),
              "2 --set: angles_deg: entry 1 is 91; give a number from -60 to 60, in degrees");
    EXPECT_EQ(error(plane, {{"angle_count", "3"}}),
              "2 scan.toml: max_angle_deg: missing; give a number more than 0 and at most 60, in degrees");
}

TEST(ScanErrors, MisspeltMissingNegativeOrAbsurdValues) {
    EXPECT_EQ(error(focused, {{"focus_dept_mm", "3"}}),
              "2 --set: focus_dept_mm: unknown key, did you mean 'focus_depth_mm'?");
    EXPECT_EQ(error(plane, {{"angles_deg", "[0]"}, {"focus_depth_mm", "3"}}).substr(0, 37),
              "2 --set: focus_depth_mm: unknown key,");
    EXPECT_EQ(error("kind = 'focused'\nsampling_MHz = 40\n", {}),
              "2 scan.toml: depth_mm: missing; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(error(focused, {{"depth_mm", "-60"}}),
              "2 --set: depth_mm: is -60; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(error(focused, {{"sound_speed_m_s", "1.54"}}),
              "2 --set: sound_speed_m_s: is 1.54; give a number from 300 to 8000, in m/s");
    EXPECT_EQ(error(focused, {{"min_depth_mm", "60"}}),
              "2 --set: min_depth_mm: is 60; give less than depth_mm, which is 60");
    EXPECT_EQ(error(focused, {{"noise_snr_dB", "nan"}}),
              "2 --set: noise_snr_dB: is not a number (nan); give a number from -60 to 200, in dB");
    EXPECT_EQ(error(focused, {{"quantization_bits", "1"}}),
              "2 --set: quantization_bits: is 1; give a whole number from 2 to 24, in bits");
    EXPECT_EQ(error(focused, {{"kind", "plane_wave"}}),
              "2 --set: kind: is the text \"plane_wave\"; give one of \"focused\", \"sector\", \"plane_waves\", "
              "\"diverging_waves\", \"swept\", \"full_matrix\"; did you mean 'plane_waves'?");
}

// ---- shipped -----------------------------------------------------------------------------------------------------

/// Which probes each shipped scan is for.
const std::map<std::string, std::vector<std::string>>& pairs() {
    static const std::vector<std::string> flat = {"linear_3MHz", "linear_5MHz", "linear_9MHz"};
    static const std::vector<std::string> phased_arrays = {"phased_2.5MHz", "phased_coarse"};
    static const std::vector<std::string> rings_and_discs = {"annular_5MHz", "disc_10mm_3MHz", "disc_10mm_6MHz",
                                                             "disc_20mm_3MHz"};
    static const std::map<std::string, std::vector<std::string>> all = {
        {"curved_lines", {"curved_3MHz"}},
        {"diverging_11", phased_arrays},
        {"diverging_linear_24", {"linear_3MHz", "linear_5MHz"}},
        {"fan_lines", flat},
        {"full_matrix", {"curved_3MHz", "linear_5MHz", "lens_5MHz", "phased_2.5MHz", "phased_coarse"}},
        {"lines_dense_40mm", flat},
        {"lines_focus_20mm", flat},
        {"lines_focus_40mm", flat},
        {"lines_focus_80mm", flat},
        {"lines_steered_15deg", flat},
        {"plane_wave_single", flat},
        {"plane_waves_31", flat},
        {"rows_lines", {"rows_5MHz", "lens_5MHz"}},
        {"sector_lines", phased_arrays},
        {"sector_wide", phased_arrays},
        {"single_beam", rings_and_discs},
        {"swept_slow", rings_and_discs},
        {"swept_standing", rings_and_discs},
        {"swept_wheel", rings_and_discs},
        {"zones_3", flat},
    };
    return all;
}

TEST(ShippedScans, FitTheProbesTheyAreFor) {
    std::set<std::string> probes;
    for (const auto& [scan_name, probe_names] : pairs()) {
        for (const std::string& probe_name : probe_names) {
            SCOPED_TRACE(probe_name);
            SCOPED_TRACE(scan_name);
            probes.insert(probe_name);
            const Probe probe = load_probe(probe_name);
            const Scan scan = load_scan(scan_name, probe);
            EXPECT_EQ(scan.name, scan_name);
            EXPECT_FALSE(scan.events.empty());
            for (const TransmitEvent& event : scan.events) {
                EXPECT_EQ(event.receivers.size(), scan.channels());
                EXPECT_EQ(event.weight.size(), probe.elements.size());
                EXPECT_FALSE(active(event).empty());
            }
            // What is stored and read again: at most 600 MB of samples.
            EXPECT_LE(4.0 * static_cast<double>(scan.samples * scan.channels() * scan.events.size()), 600e6);
        }
    }
    EXPECT_EQ(std::vector<std::string>(probes.begin(), probes.end()), shipped_names(ShippedKind::probe));
    for (const std::string& name : shipped_names(ShippedKind::scan)) {
        EXPECT_TRUE(pairs().contains(name)) << name;
    }
}

TEST(ShippedScans, AreRefusedByArraysTheyAreNotFor) {
    const auto refused = [](const char* scan, const char* probe) {
        return message_of([&] { load_scan(scan, load_probe(probe)); }).substr(0, 2) == "2 ";
    };
    EXPECT_TRUE(refused("sector_lines", "curved_3MHz"));
    EXPECT_TRUE(refused("fan_lines", "curved_3MHz"));
    EXPECT_TRUE(refused("swept_slow", "linear_5MHz"));
    EXPECT_TRUE(refused("lines_focus_40mm", "annular_5MHz"));
    EXPECT_TRUE(refused("diverging_linear_24", "linear_9MHz"));
}

TEST(ShippedScans, OfSweptHeadsAreAsTheirCommentsSay) {
    const Probe head = load_probe("annular_5MHz");
    EXPECT_EQ(load_scan("swept_wheel", head).events.size(), 30U);
    EXPECT_EQ(load_scan("swept_slow", head).events.size(), 120U);
    const Scan standing = load_scan("swept_standing", head);
    EXPECT_EQ(standing.head->rotation_rate_rad_s, 0.0);
    EXPECT_EQ(standing.events.size(), 120U);
    EXPECT_EQ(load_scan("single_beam", head).events.front().direction, Vec3(0.0, 0.0, 1.0));
}

}  // namespace
}  // namespace echoloom
