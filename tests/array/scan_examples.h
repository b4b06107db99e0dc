#pragma once
/// Probes of each kind and scans of them, from text, for the tests of this folder.

#include <numbers>
#include <numeric>
#include <string>
#include <vector>

#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "tests/base/message.h"

namespace echoloom {

inline constexpr double c = 1540.0;
inline constexpr double degree = std::numbers::pi / 180.0;

/// `count` elements 0.3 mm apart at 5 MHz.
inline Probe probe_of(int count) {
    return read_probe(Settings::from_text("kind = 'linear'\nelements = " + std::to_string(count) +
                                              "\npitch_mm = 0.3\nwidth_mm = 0.27\nheight_mm = 6\ncenter_MHz = 5\n"
                                              "bandwidth_percent = 60\n",
                                          "bench.toml"));
}

inline const std::string focused =
    "kind = 'focused'\nsampling_MHz = 40\ndepth_mm = 60\nfocus_depth_mm = 40\ntransmit_elements = 16\n"
    "receive_elements = 24\n";
inline const std::string plane = "kind = 'plane_waves'\nsampling_MHz = 40\ndepth_mm = 60\n";
inline const std::string full = "kind = 'full_matrix'\nsampling_MHz = 40\ndepth_mm = 60\n";

inline Scan scan_from(const std::string& text, const Probe& probe, std::vector<Override> overrides = {}) {
    return read_scan(Settings::from_text(text, "scan.toml", overrides), probe);
}

inline std::vector<int> active(const TransmitEvent& event) {
    std::vector<int> elements;
    for (std::size_t i = 0; i < event.weight.size(); ++i) {
        if (event.weight[i] != 0.0) {
            elements.push_back(static_cast<int>(i));
        }
    }
    return elements;
}

inline std::vector<int> from_to(int first, int last) {
    std::vector<int> elements(static_cast<std::size_t>(last - first + 1));
    std::iota(elements.begin(), elements.end(), first);
    return elements;
}

inline Probe probe_from(const std::string& text, std::vector<Override> overrides = {}) {
    return read_probe(Settings::from_text(text, "bench.toml", overrides));
}

inline const std::string at_5_MHz = "center_MHz = 5\nbandwidth_percent = 60\n";

/// 65 elements 0.5 mm apart on a radius of 40 mm.
inline const std::string curved =
    "kind = 'curved'\nelements = 65\npitch_mm = 0.5\nwidth_mm = 0.45\nheight_mm = 10\nradius_mm = 40\n" + at_5_MHz;
/// 64 elements half a wavelength apart.
inline const std::string phased =
    "kind = 'phased'\nelements = 64\npitch_mm = 0.154\nwidth_mm = 0.14\nheight_mm = 10\n" + at_5_MHz;
/// 32 columns of 5 rows.
inline const std::string rows =
    "kind = 'rows'\nelements = 32\npitch_mm = 0.3\nwidth_mm = 0.27\nrows = 5\nrow_pitch_mm = 1.6\n"
    "height_mm = 1.5\n" +
    at_5_MHz;
/// Six rings of equal area on a head of 14 mm.
inline const std::string rings = "kind = 'annular'\nrings = 6\nradius_mm = 7\nkerf_mm = 0.1\n" + at_5_MHz;

/// One wheel of five heads at 3,000 turns a minute: a figure of common practice, no source.
inline const std::string wheel =
    "kind = 'swept'\nsampling_MHz = 40\ndepth_mm = 100\nheads = 5\nrotation_rate_rpm = 3000\n"
    "window_half_angle_deg = 36\naxis_to_face_mm = 8\nfocus_depth_mm = 50\n";

/// What a scan of a probe ends in.
inline std::string scan_error(const std::string& text, const Probe& probe, std::vector<Override> overrides = {}) {
    return message_of([&] { scan_from(text, probe, std::move(overrides)); });
}

}  // namespace echoloom
