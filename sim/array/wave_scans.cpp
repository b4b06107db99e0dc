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

std::vector<int> everybody(const Probe& probe) {
    return nearest_elements(probe, 0.0, column_count(probe));
}

std::vector<double> read_angles_deg(Settings& settings) {
    const Range range = between(-steepest_line_deg, steepest_line_deg);
    if (settings.has("angles_deg")) {
        if (settings.has("angle_count") || settings.has("max_angle_deg")) {
            settings.fail("angles_deg", "given beside angle_count or max_angle_deg; keep the list or the pair");
        }
        std::vector<double> angles = settings.numbers("angles_deg", range);
        if (angles.empty() || angles.size() > max_lines) {
            settings.fail("angles_deg", "holds " + counted(angles.size(), "angle") + "; give 1 to " +
                                            std::to_string(max_lines) + " angles, in degrees");
        }
        return angles;
    }
    if (!settings.has("angle_count")) {
        settings.fail("angles_deg", "missing; give angles_deg, or angle_count and max_angle_deg");
    }
    const long long count = settings.integer("angle_count", 1, max_lines);
    const double greatest = count == 1 ? settings.number_or("max_angle_deg", 0.0, between(0.0, steepest_line_deg))
                                       : settings.number("max_angle_deg", positive(steepest_line_deg));
    if (count == 1) {
        return {0.0};
    }
    std::vector<double> angles;
    for (long long i = 0; i < count; ++i) {
        angles.push_back(greatest * static_cast<double>(2 * i - (count - 1)) / static_cast<double>(count - 1));
    }
    return angles;
}

/// Places of the virtual sources along the face.
std::vector<double> read_sources_m(Settings& settings, const Probe& probe) {
    const double half_mm = half_face_m(probe) / mm;
    if (settings.has("sources_mm") == settings.has("source_count")) {
        settings.fail("sources_mm", settings.has("sources_mm") ? "given beside source_count; keep one of the two"
                                                               : "missing; give sources_mm, or source_count");
    }
    std::vector<double> sources;
    if (settings.has("sources_mm")) {
        sources = settings.numbers("sources_mm", between(-half_mm, half_mm));
        if (sources.empty() || sources.size() > max_lines) {
            settings.fail("sources_mm", "holds " + counted(sources.size(), "place") + "; give 1 to " +
                                            std::to_string(max_lines) + " places along the array, in mm");
        }
    } else {
        const auto count = settings.integer("source_count", 1, max_lines);
        const double span_mm = settings.number_or("source_span_mm", 2.0 * half_mm, between(0.0, 2.0 * half_mm));
        for (long long i = 0; i < count; ++i) {
            const auto last = static_cast<double>(std::max(count - 1, 1LL));
            sources.push_back(count == 1 ? 0.0 : span_mm * (static_cast<double>(i) / last - 0.5));
        }
    }
    for (double& source : sources) {
        source *= mm;
    }
    return sources;
}

}  // namespace

void add_plane_waves(Settings& settings, const Probe& probe, Scan& scan) {
    const Window window = read_window(settings, "transmit_window", "transmit_window_parameter");
    for (const double angle_deg : read_angles_deg(settings)) {
        scan.events.push_back(plane_event(probe, window, angle_deg * degree, scan.sound_speed_m_s));
        scan.events.back().receivers = everybody(probe);
        scan.events.back().line = static_cast<int>(scan.events.size()) - 1;
    }
}

void add_diverging_waves(Settings& settings, const Probe& probe, Scan& scan) {
    const double behind_m = settings.number("source_behind_mm", positive(1000.0)) * mm;
    const int columns = read_columns(settings, probe, "transmit_elements", column_count(probe));
    const Window window = read_window(settings, "transmit_window", "transmit_window_parameter");
    for (const double lateral_m : read_sources_m(settings, probe)) {
        scan.events.push_back(diverging_event(probe, window, columns, lateral_m, behind_m, scan.sound_speed_m_s));
        scan.events.back().receivers = everybody(probe);
        scan.events.back().line = static_cast<int>(scan.events.size()) - 1;
    }
}

void add_single_elements(const Probe& probe, Scan& scan) {
    for (int element = 0; element < static_cast<int>(probe.elements.size()); ++element) {
        scan.events.push_back(element_event(probe, element));
        scan.events.back().receivers = everybody(probe);
        scan.events.back().line = static_cast<int>(scan.events.size()) - 1;
    }
}

}  // namespace echoloom
