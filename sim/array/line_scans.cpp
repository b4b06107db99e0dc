#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/array/face.h"
#include "sim/array/scan_events.h"
#include "sim/array/transmit.h"
#include "sim/array/window_settings.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double degree = std::numbers::pi / 180.0;
constexpr int default_receivers = 64;
constexpr double steepest_sector_deg = 80.0;
constexpr std::size_t max_zones = 16;

/// The depths each line is focused at, one event for each.
std::vector<double> read_zones_m(Settings& settings) {
    if (settings.has("focus_depth_mm") && settings.has("focus_depths_mm")) {
        settings.fail("focus_depths_mm", "given beside focus_depth_mm; keep the list for several zones, or the number");
    }
    const bool several = settings.has("focus_depths_mm");
    const char* const key = several ? "focus_depths_mm" : "focus_depth_mm";
    const Range range{-no_limit, 1000.0, false, false};
    std::vector<double> zones = several ? settings.numbers(key, range) : std::vector{settings.number(key, range)};
    if (zones.empty() || zones.size() > max_zones) {
        settings.fail(key, "holds " + counted(zones.size(), "depth") + "; give 1 to " + std::to_string(max_zones) +
                               " depths, in mm");
    }
    for (std::size_t i = 0; i < zones.size(); ++i) {
        if (zones[i] <= 0.0) {
            settings.fail(key, "is " + plain(zones[i]) + ": the focus would lie at or behind the array; give a " +
                                   "number more than 0, in mm");
        }
        if (i > 0 && zones[i] * mm <= zones[i - 1]) {
            settings.fail(key, "entry " + std::to_string(i) + " is " + plain(zones[i]) +
                                   ", no deeper than the one before; give depths that rise");
        }
        zones[i] *= mm;
    }
    return zones;
}

/// Columns of the transmit aperture for each zone: the same for all, or by F-number.
std::vector<int> read_transmit_columns(Settings& settings, const Probe& probe, std::span<const double> zones_m,
                                       std::optional<int> fallback) {
    const bool given = settings.has("transmit_elements");
    const bool ruled = settings.has("transmit_f_number");
    if (given && ruled) {
        settings.fail("transmit_elements", "given beside transmit_f_number; keep one of the two");
    }
    if (!given && !ruled && !fallback) {
        settings.fail("transmit_elements", "missing; give transmit_elements or transmit_f_number");
    }
    if (!ruled) {
        return std::vector<int>(zones_m.size(),
                                read_columns(settings, probe, "transmit_elements", fallback.value_or(1)));
    }
    const double f_number = settings.number("transmit_f_number", between(0.1, 1000.0));
    std::vector<int> columns;
    for (const double zone_m : zones_m) {
        const double wanted = std::round(zone_m / f_number / probe.pitch_m);
        columns.push_back(static_cast<int>(std::clamp(wanted, 1.0, static_cast<double>(column_count(probe)))));
    }
    return columns;
}

/// Where each line leaves the array, along its face and centred on it.
std::vector<double> read_line_places(Settings& settings, const Probe& probe) {
    const double width_m = 2.0 * half_face_m(probe);
    const double spacing_m = settings.number_or("line_spacing_mm", probe.pitch_m / mm, positive(1000.0)) * mm;
    const double room = 1e-9 * width_m;  // for the rounding of a span that is exactly the array's
    const int fitting = static_cast<int>(std::min<double>(std::floor((width_m + room) / spacing_m), max_lines));
    const auto lines = static_cast<int>(settings.integer_or("lines", std::max(1, fitting), 1, max_lines));
    if ((lines - 1) * spacing_m > width_m + room) {
        settings.fail(settings.has("lines") ? "lines" : "line_spacing_mm",
                      counted(static_cast<std::size_t>(lines), "line") + ' ' + plain(spacing_m / mm) +
                          " mm apart would start off the array, which is " + plain(width_m / mm) +
                          " mm wide; give at " + "most " +
                          std::to_string(1 + static_cast<int>((width_m + room) / spacing_m)) +
                          " lines or a smaller line_spacing_mm");
    }
    std::vector<double> places;
    places.reserve(static_cast<std::size_t>(lines));
    for (int line = 0; line < lines; ++line) {
        places.push_back((line - 0.5 * (lines - 1)) * spacing_m);
    }
    return places;
}

/// Lines square to the face, or tilted from that by one angle.
std::vector<ScanLine> lines_from_face(const Probe& probe, std::span<const double> places_m, double steer_rad) {
    std::vector<ScanLine> lines;
    for (const double lateral_m : places_m) {
        const FacePlace place = face_place(probe, lateral_m);
        const double angle = std::atan2(place.normal.x(), place.normal.z()) + steer_rad;
        lines.push_back({lateral_m, place.origin_m, direction_at(angle)});
    }
    return lines;
}

/// The same many lines, fanned out evenly between two angles as if from one point behind the array, the outermost ones
/// from where they were.
std::vector<ScanLine> fan_of_lines(std::span<const double> places_m, double fan_rad) {
    const double behind_m = places_m.back() / std::tan(fan_rad);
    const auto last = static_cast<double>(places_m.size() - 1);
    std::vector<ScanLine> lines;
    for (std::size_t line = 0; line < places_m.size(); ++line) {
        const double angle = fan_rad * (2.0 * static_cast<double>(line) - last) / last;
        const double x_m = behind_m * std::tan(angle);
        lines.push_back({x_m, Vec3(x_m, 0.0, 0.0), direction_at(angle)});
    }
    return lines;
}

std::vector<ScanLine> read_lines(Settings& settings, const Probe& probe) {
    const std::vector<double> places = read_line_places(settings, probe);
    const Range tilt = between(-steepest_line_deg, steepest_line_deg);
    if (!settings.has("fan_deg")) {
        return lines_from_face(probe, places, settings.number_or("steer_deg", 0.0, tilt) * degree);
    }
    const double fan_deg = settings.number("fan_deg", positive(steepest_line_deg));
    if (settings.has("steer_deg")) {
        settings.fail("fan_deg", "given beside steer_deg; keep one of the two");
    }
    if (probe.radius_m > 0.0) {
        settings.fail("fan_deg", "the lines of a curved array fan by themselves; remove this key");
    }
    if (places.size() < 2) {
        settings.fail("fan_deg", "one line cannot fan; give lines = 2 or more, or remove this key");
    }
    return fan_of_lines(places, fan_deg * degree);
}

/// What is the same for line scans of any geometry; `default_transmit` columns where the scan does not state them.
void add_lines(Settings& settings, const Probe& probe, std::span<const ScanLine> lines,
               std::optional<int> default_transmit, int receive_columns, Scan& scan) {
    const std::vector<double> zones = read_zones_m(settings);
    const std::vector<int> columns = read_transmit_columns(settings, probe, zones, default_transmit);
    const Window window = read_window(settings, "transmit_window", "transmit_window_parameter");
    if (lines.size() * zones.size() > max_lines) {
        settings.fail("focus_depths_mm", counted(lines.size(), "line") + " of " + counted(zones.size(), "zone") +
                                             " are too many; give at most " + std::to_string(max_lines) +
                                             " events in all");
    }
    for (std::size_t line = 0; line < lines.size(); ++line) {
        const std::vector<int> receivers = nearest_elements(probe, lines[line].lateral_m, receive_columns);
        for (std::size_t zone = 0; zone < zones.size(); ++zone) {
            scan.events.push_back(
                focused_event(probe, {zones[zone], columns[zone], window}, lines[line], scan.sound_speed_m_s));
            scan.events.back().receivers = receivers;
            scan.events.back().line = static_cast<int>(line);
        }
    }
}

}  // namespace

int read_columns(Settings& settings, const Probe& probe, const char* key, int fallback) {
    const int available = column_count(probe);
    const auto columns = static_cast<int>(settings.integer_or(key, std::min(fallback, available), 1, 1 << 20));
    if (columns > available) {
        settings.fail(key, "is " + std::to_string(columns) + ", but the probe \"" + probe.name + "\" has " +
                               counted(static_cast<std::size_t>(available), "element") +
                               (probe.rows > 1 ? " in a row" : "") + "; give at most that");
    }
    return columns;
}

void add_focused_lines(Settings& settings, const Probe& probe, Scan& scan) {
    const std::vector<ScanLine> lines = read_lines(settings, probe);
    add_lines(settings, probe, lines, {}, read_columns(settings, probe, "receive_elements", default_receivers), scan);
}

void add_sector_lines(Settings& settings, const Probe& probe, Scan& scan) {
    if (probe.radius_m > 0.0) {
        settings.fail("kind",
                      "a sector from one point needs a flat array; give \"focused\", whose lines follow the "
                      "radii of a curved one");
    }
    const auto count = settings.integer("lines", 1, max_lines);
    const double max_deg = count == 1 ? settings.number_or("max_angle_deg", 0.0, between(0.0, steepest_sector_deg))
                                      : settings.number("max_angle_deg", positive(steepest_sector_deg));
    const auto last = static_cast<double>(count - 1);
    std::vector<ScanLine> lines;
    for (long long line = 0; line < count; ++line) {
        const double share = count == 1 ? 0.0 : (2.0 * static_cast<double>(line) - last) / last;
        lines.push_back({0.0, Vec3::Zero(), direction_at(share * max_deg * degree)});
    }
    const int all = column_count(probe);
    add_lines(settings, probe, lines, all, read_columns(settings, probe, "receive_elements", all), scan);
}

}  // namespace echoloom
