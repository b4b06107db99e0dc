#include "sim/array/scan.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "sim/array/transmit.h"
#include "sim/array/window_settings.h"
#include "sim/base/shipped.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double degree = std::numbers::pi / 180.0;
constexpr double steepest_deg = 60.0;
constexpr int usual_listeners = 64;
constexpr int most_lines = 4096;

/// The pulse is called over, and its band ended, where it is this far below its peak.
constexpr double over_level = 1e-4;        // -80 dB
constexpr double band_end_level = 0.01;    // -40 dB
constexpr double samples_per_cycle = 2.2;  // at the band's end: 10 % above the sampling theorem's two

int element_count(const Probe& probe) {
    return static_cast<int>(probe.elements.size());
}

// ---- focused, line by line ---------------------------------------------------------------------------------------

double read_focus_m(Settings& settings) {
    const double focus_mm = settings.number("focus_depth_mm", Range{-no_limit, 1000.0, false, false});
    if (focus_mm <= 0.0) {
        settings.fail("focus_depth_mm", "is " + plain(focus_mm) +
                                            ": the focus would lie at or behind the array; give a " +
                                            "number more than 0, in mm");
    }
    return focus_mm * mm;
}

int read_transmit_elements(Settings& settings, const Probe& probe, double focus_m) {
    if (settings.has("transmit_elements") == settings.has("transmit_f_number")) {
        settings.fail("transmit_elements", settings.has("transmit_elements")
                                               ? "given beside transmit_f_number; keep one of the two"
                                               : "missing; give transmit_elements or transmit_f_number");
    }
    const int available = element_count(probe);
    if (settings.has("transmit_f_number")) {
        const double f_number = settings.number("transmit_f_number", between(0.1, 1000.0));
        const double elements = std::round(focus_m / f_number / probe.pitch_m);
        return static_cast<int>(std::clamp(elements, 1.0, static_cast<double>(available)));
    }
    const auto elements = static_cast<int>(settings.integer("transmit_elements", 1, 1 << 20));
    if (elements > available) {
        settings.fail("transmit_elements", "is " + std::to_string(elements) + ", but the probe \"" + probe.name +
                                               "\" has " + std::to_string(available) + " elements; give at most that");
    }
    return elements;
}

int read_receive_elements(Settings& settings, const Probe& probe) {
    const int available = element_count(probe);
    const auto elements =
        static_cast<int>(settings.integer_or("receive_elements", std::min(usual_listeners, available), 1, 1 << 20));
    if (elements > available) {
        settings.fail("receive_elements", "is " + std::to_string(elements) + ", but the probe \"" + probe.name +
                                              "\" has " + std::to_string(available) + " elements; give at most that");
    }
    return elements;
}

/// Where each line leaves the array, centred on it.
std::vector<double> read_line_origins(Settings& settings, const Probe& probe) {
    const double width_m = 2.0 * half_width_m(probe);
    const double spacing_m = settings.number_or("line_spacing_mm", probe.pitch_m / mm, positive(1000.0)) * mm;
    const double room = 1e-9 * width_m;  // for the rounding of a span that is exactly the array's
    const int fitting = static_cast<int>(std::min<double>(std::floor((width_m + room) / spacing_m), most_lines));
    const auto lines = static_cast<int>(settings.integer_or("lines", std::max(1, fitting), 1, most_lines));
    if ((lines - 1) * spacing_m > width_m + room) {
        settings.fail(settings.has("lines") ? "lines" : "line_spacing_mm",
                      std::to_string(lines) + " lines " + plain(spacing_m / mm) +
                          " mm apart would start off the array, which is " + plain(width_m / mm) +
                          " mm wide; give at " + "most " +
                          std::to_string(1 + static_cast<int>((width_m + room) / spacing_m)) +
                          " lines or a smaller line_spacing_mm");
    }
    std::vector<double> origins;
    origins.reserve(static_cast<std::size_t>(lines));
    for (int line = 0; line < lines; ++line) {
        origins.push_back((line - 0.5 * (lines - 1)) * spacing_m);
    }
    return origins;
}

void add_focused_lines(Settings& settings, const Probe& probe, Scan& scan) {
    FocusedTransmit transmit;
    transmit.focus_m = read_focus_m(settings);
    transmit.steer_rad = settings.number_or("steer_deg", 0.0, between(-steepest_deg, steepest_deg)) * degree;
    transmit.elements = read_transmit_elements(settings, probe, transmit.focus_m);
    transmit.window = read_window(settings, "transmit_window", "transmit_window_parameter");
    const int listeners = read_receive_elements(settings, probe);
    for (const double x_m : read_line_origins(settings, probe)) {
        scan.events.push_back(focused_event(probe, transmit, x_m, scan.sound_speed_m_s));
        scan.events.back().listeners = nearest_elements(probe, x_m, listeners);
    }
}

// ---- plane waves -------------------------------------------------------------------------------------------------

std::vector<double> read_angles_deg(Settings& settings) {
    const Range range = between(-steepest_deg, steepest_deg);
    if (settings.has("angles_deg")) {
        if (settings.has("angle_count") || settings.has("greatest_angle_deg")) {
            settings.fail("angles_deg", "given beside angle_count or greatest_angle_deg; keep the list or the pair");
        }
        std::vector<double> angles = settings.numbers("angles_deg", range);
        if (angles.empty() || angles.size() > most_lines) {
            settings.fail("angles_deg", "has " + std::to_string(angles.size()) + " entries; give 1 to " +
                                            std::to_string(most_lines) + " angles, in degrees");
        }
        return angles;
    }
    if (!settings.has("angle_count")) {
        settings.fail("angles_deg", "missing; give angles_deg, or angle_count and greatest_angle_deg");
    }
    const long long count = settings.integer("angle_count", 1, most_lines);
    const double greatest = count == 1 ? settings.number_or("greatest_angle_deg", 0.0, between(0.0, steepest_deg))
                                       : settings.number("greatest_angle_deg", positive(steepest_deg));
    if (count == 1) {
        return {0.0};
    }
    std::vector<double> angles;
    for (long long i = 0; i < count; ++i) {
        angles.push_back(greatest * static_cast<double>(2 * i - (count - 1)) / static_cast<double>(count - 1));
    }
    return angles;
}

void add_plane_waves(Settings& settings, const Probe& probe, Scan& scan) {
    const Window window = read_window(settings, "transmit_window", "transmit_window_parameter");
    for (const double angle_deg : read_angles_deg(settings)) {
        scan.events.push_back(plane_event(probe, window, angle_deg * degree, scan.sound_speed_m_s));
        scan.events.back().listeners = nearest_elements(probe, 0.0, element_count(probe));
    }
}

// ---- one element at a time ---------------------------------------------------------------------------------------

void add_single_elements(const Probe& probe, Scan& scan) {
    for (int element = 0; element < element_count(probe); ++element) {
        scan.events.push_back(element_event(probe, element));
        scan.events.back().listeners = nearest_elements(probe, 0.0, element_count(probe));
    }
}

// ---- sampling ----------------------------------------------------------------------------------------------------

void read_sampling(Settings& settings, const Probe& probe, Scan& scan) {
    scan.sampling_rate_Hz = settings.number("sampling_MHz", positive(1000.0)) * 1e6;
    const double highest_Hz = pulse_highest_frequency(probe.pulse, band_end_level);
    if (scan.sampling_rate_Hz < samples_per_cycle * highest_Hz) {
        const double needed_MHz = std::ceil(samples_per_cycle * highest_Hz * 1e-5) / 10.0;
        settings.fail("sampling_MHz", "is " + plain(scan.sampling_rate_Hz * 1e-6) + ", too slow for the probe \"" +
                                          probe.name + "\", whose pulse reaches " + plain(highest_Hz * 1e-6) +
                                          " MHz (-40 dB); give at least " + plain(needed_MHz));
    }
    scan.most_depth_m = settings.number("depth_mm", positive(1000.0)) * mm;
    scan.least_depth_m = settings.number_or("least_depth_mm", 0.0, between(0.0, 1000.0)) * mm;
    if (scan.least_depth_m >= scan.most_depth_m) {
        settings.fail("least_depth_mm", "is " + plain(scan.least_depth_m / mm) +
                                            "; give less than depth_mm, which is " + plain(scan.most_depth_m / mm));
    }
    scan.sound_speed_m_s = settings.number_or("sound_speed_m_s", 1540.0, between(300.0, 8000.0));
    scan.noise_snr_dB = settings.number_if("noise_snr_dB", between(-60.0, 200.0));
    if (settings.has("quantization_bits")) {
        scan.quantization_bits = static_cast<int>(settings.integer("quantization_bits", 2, 24));
    }
}

/// The points at the deepest range an event serves: the end of its own line, or the ends of the row of pixels under the
/// array.
std::vector<Vec3> deepest_points(const TransmitEvent& event, const Probe& probe, double depth_m) {
    if (event.kind == TransmitKind::focused) {
        return {event.origin_m + depth_m * event.direction};
    }
    return {Vec3(-half_width_m(probe), 0.0, depth_m), Vec3(half_width_m(probe), 0.0, depth_m)};
}

/// Path of an event's front from its origin to a point it serves.
double transmit_path_m(const TransmitEvent& event, const Vec3& point) {
    const Vec3 offset = point - event.origin_m;
    return event.kind == TransmitKind::plane ? offset.dot(event.direction) : offset.norm();
}

double last_echo_s(const TransmitEvent& event, const Probe& probe, const Scan& scan) {
    double longest_m = 0.0;
    for (const Vec3& point : deepest_points(event, probe, scan.most_depth_m)) {
        for (const int listener : event.listeners) {
            const double back_m = (point - probe.elements[static_cast<std::size_t>(listener)].center_m).norm();
            longest_m = std::max(longest_m, transmit_path_m(event, point) + back_m);
        }
    }
    return longest_m / scan.sound_speed_m_s;
}

double first_echo_s(const TransmitEvent& event, const Probe& probe, const Scan& scan) {
    double shortest_m = 2.0 * scan.least_depth_m;
    if (event.kind == TransmitKind::plane) {
        // A tilted front runs ahead over one edge of the array.
        shortest_m =
            scan.least_depth_m * (1.0 + event.direction.z()) - half_width_m(probe) * std::abs(event.direction.x());
    } else if (event.kind == TransmitKind::focused) {
        // The end of a steered line lies nearer to some listener than to the line's origin.
        const Vec3 point = event.origin_m + scan.least_depth_m * event.direction;
        for (const int listener : event.listeners) {
            const double back_m = (point - probe.elements[static_cast<std::size_t>(listener)].center_m).norm();
            shortest_m = std::min(shortest_m, scan.least_depth_m + back_m);
        }
    }
    return shortest_m / scan.sound_speed_m_s;
}

/// Sets each event's first sample and the scan's common number of samples so that nothing wanted is cut off.
void set_sample_times(const Probe& probe, Scan& scan) {
    double longest_s = 0.0;
    for (TransmitEvent& event : scan.events) {
        event.start_time_s = first_echo_s(event, probe, scan);
        longest_s = std::max(longest_s, last_echo_s(event, probe, scan) - event.start_time_s);
    }
    longest_s += pulse_tail_s(probe.pulse, over_level);
    scan.samples = static_cast<std::size_t>(std::ceil(longest_s * scan.sampling_rate_Hz)) + 1;
}

}  // namespace

Scan read_scan(Settings settings, const Probe& probe) {
    constexpr std::array<std::string_view, 3> kinds = {"focused", "plane_waves", "full_matrix"};
    Scan scan;
    scan.source = settings.source_text();
    scan.name = settings.text_or("name", settings.file().stem().string());
    const std::string kind = settings.one_of("kind", kinds);
    read_sampling(settings, probe, scan);
    if (kind == "focused") {
        add_focused_lines(settings, probe, scan);
    } else if (kind == "plane_waves") {
        add_plane_waves(settings, probe, scan);
    } else {
        add_single_elements(probe, scan);
    }
    settings.finish();
    for (std::size_t i = 0; i < scan.events.size(); ++i) {
        scan.events[i].line = static_cast<int>(i);
    }
    set_sample_times(probe, scan);
    return scan;
}

Scan load_scan(const std::string& path_or_name, const Probe& probe, std::span<const Override> overrides) {
    return read_scan(Settings::from_file(find_shipped(ShippedKind::scan, path_or_name), overrides), probe);
}

}  // namespace echoloom
