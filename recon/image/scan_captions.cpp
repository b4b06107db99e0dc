#include "recon/image/scan_captions.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>
#include <vector>

#include "sim/array/face.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

double tilt_rad(const TransmitEvent& event) {
    return std::atan2(event.direction.x(), event.direction.z());
}

double focal_range_m(const TransmitEvent& event) {
    return (event.focus_m - event.origin_m).norm();
}

std::string list_in_mm(const std::vector<double>& lengths_m) {
    std::string text;
    for (std::size_t i = 0; i < lengths_m.size(); ++i) {
        const bool last = i + 1 == lengths_m.size();
        text += i == 0 ? "" : last ? " and " : ", ";
        text += last ? in_mm(lengths_m[i]) : plain(std::round(lengths_m[i] * 1e5) / 1e2);
    }
    return text;
}

/// " over +-45 deg", " from -20 to 40 deg", " steered by 15 deg"; empty where nothing is tilted.
std::string angles(const std::vector<TransmitEvent>& events) {
    const auto [first, last] = std::ranges::minmax_element(events, {}, tilt_rad);
    const double least = tilt_rad(*first);
    const double most = tilt_rad(*last);
    constexpr double negligible = 1e-4;
    if (most - least < negligible) {
        return std::abs(most) < negligible ? "" : " steered by " + in_degrees(most);
    }
    return std::abs(most + least) < negligible ? " over \u00b1" + in_degrees(most)
                                               : " from " + in_degrees(least) + " to " + in_degrees(most);
}

/// Lines that fan out of one place.
bool from_one_point(const std::vector<TransmitEvent>& events) {
    const TransmitEvent& first = events.front();
    return std::ranges::all_of(
               events, [&](const TransmitEvent& event) { return (event.origin_m - first.origin_m).norm() < 1e-7; }) &&
           std::ranges::any_of(
               events, [&](const TransmitEvent& event) { return (event.direction - first.direction).norm() > 1e-4; });
}

/// The focus all events share, or the foci of every line's events; empty where lines differ. Steered lines share their
/// focal range, not its depth.
std::string transmit_foci(const std::vector<TransmitEvent>& events) {
    std::vector<double> foci;
    for (const TransmitEvent& event : events) {
        const auto same = [&](double range_m) { return std::abs(focal_range_m(event) - range_m) < 1e-5; };
        if (std::ranges::none_of(foci, same)) {
            foci.push_back(focal_range_m(event));
        }
    }
    std::set<int> lines;
    for (const TransmitEvent& event : events) {
        lines.insert(event.line);
    }
    if (foci.size() > 1 && foci.size() * lines.size() != events.size()) {
        return "";
    }
    std::ranges::sort(foci);
    constexpr std::size_t max_listed = 5;
    if (foci.size() > max_listed) {
        return ", " + std::to_string(foci.size()) + " transmit foci from " + in_mm(foci.front()) + " to " +
               in_mm(foci.back());
    }
    return foci.size() == 1 ? ", transmit focus " + in_mm(foci.front()) : ", transmit foci " + list_in_mm(foci);
}

/// "128 elements", with a space at which no line ends.
std::string unbroken(std::size_t count, std::string_view noun) {
    std::string text = counted(count, noun);
    return text.replace(text.find(' '), 1, no_break);
}

std::string describe_sweep(const RecordingInfo& info, std::size_t lines) {
    const double rotation_rate_rpm = 60.0 * info.head->rotation_rate_rad_s / (2.0 * std::numbers::pi);
    return counted(lines, "line") + " of a mechanical sector" + angles(info.events) +
           (rotation_rate_rpm == 0.0 ? ", head standing still for each"
                                     : ", head rotating at " + three_digits(rotation_rate_rpm) + no_break + "rpm") +
           transmit_foci(info.events);
}

}  // namespace

std::string in_mm(double length_m) {
    return plain(std::round(length_m * 1e5) / 1e2) + no_break + "mm";
}

std::string in_degrees(double angle_rad) {
    const double angle_deg = std::round(angle_rad * 1800.0 / std::numbers::pi) / 10.0;
    return (angle_deg < 0.0 ? "\u2212" : "") + plain(std::abs(angle_deg)) + "\u00b0";
}

std::string three_digits(double value) {
    if (!(value > 0.0) || !std::isfinite(value)) {
        return plain(value);
    }
    const double unit = std::pow(10.0, std::min(std::floor(std::log10(value)) - 2.0, 0.0));
    return plain(std::round(value / unit) * unit);
}

std::string event_noun(const RecordingInfo& info) {
    if (info.events.empty()) {
        return "event";
    }
    switch (info.events.front().kind) {
        case TransmitKind::focused:
            return "line";
        case TransmitKind::plane:
        case TransmitKind::diverging:
            return "wave";
        case TransmitKind::element:
            break;
    }
    return "element";
}

std::string describe_array(const Probe& probe) {
    std::string text;
    if (probe.kind == "annular") {
        double diameter_m = 0.0;
        for (const Element& ring : probe.elements) {
            diameter_m = std::max(diameter_m, 2.0 * ring.outer_m);
        }
        text = unbroken(probe.elements.size(), "ring") + ", diameter " + in_mm(diameter_m);
    } else if (probe.rows > 1) {
        text = "1.5-D array of " + unbroken(static_cast<std::size_t>(column_count(probe)), "column") + " and " +
               unbroken(static_cast<std::size_t>(probe.rows), "row");
    } else {
        text = unbroken(probe.elements.size(), "element") +
               (probe.radius_m > 0.0 ? " on an arc of radius " + in_mm(probe.radius_m) : "");
    }
    return text + ", " + plain(std::round(probe.center_Hz * 1e-4) / 1e2) + no_break + "MHz";
}

std::string describe_scan(const RecordingInfo& info) {
    const std::vector<TransmitEvent>& events = info.events;
    if (events.empty()) {
        return "";
    }
    std::set<int> lines;
    for (const TransmitEvent& event : events) {
        lines.insert(event.line);
    }
    if (info.head) {
        return describe_sweep(info, lines.size());
    }
    switch (events.front().kind) {
        case TransmitKind::focused:
            return counted(lines.size(), "focused line") + (from_one_point(events) ? " from one point" : "") +
                   angles(events) + transmit_foci(events);
        case TransmitKind::plane:
            return counted(events.size(), "plane wave") + angles(events);
        case TransmitKind::diverging:
            return counted(events.size(), "diverging wave") + " from virtual sources " +
                   in_mm(focal_range_m(events.front())) + " behind the array";
        case TransmitKind::element:
            break;
    }
    return counted(events.size(), "single-element transmission");
}

}  // namespace echoloom
