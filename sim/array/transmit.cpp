#include "sim/array/transmit.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/array/delay_law.h"
#include "sim/array/face.h"

namespace echoloom {

namespace {

/// Fires `count` columns from `first` on, those that exist, every row of each.
void fire_columns(const Probe& probe, const Window& window, int first, int count, std::span<const double> delay_s,
                  TransmitEvent& event) {
    event.weight.assign(probe.elements.size(), 0.0);
    event.delay_s.assign(probe.elements.size(), 0.0);
    const std::vector<double> weights = window_at_centers(window, count);
    const int end = std::min(first + count, column_count(probe));
    for (int column = std::max(first, 0); column < end; ++column) {
        for (int row = 0; row < probe.rows; ++row) {
            const auto element = static_cast<std::size_t>(column * probe.rows + row);
            event.weight[element] = weights[static_cast<std::size_t>(column - first)];
            event.delay_s[element] = delay_s[element];
        }
    }
}

}  // namespace

Vec3 direction_at(double angle_rad) {
    return {std::sin(angle_rad), 0.0, std::cos(angle_rad)};
}

HeadPose head_pose(const HeadMotion& head, double angle_rad) {
    HeadPose pose;
    pose.normal = direction_at(angle_rad);
    pose.lateral = Vec3(pose.normal.z(), 0.0, -pose.normal.x());
    pose.origin_m = head.axis_to_face_m * (pose.normal - Vec3::UnitZ());
    return pose;
}

int first_of_nearest(const Probe& probe, double lateral_m, int count) {
    const double line_index = (lateral_m - face_lateral_m(probe, probe.elements.front().center_m)) / probe.pitch_m;
    // A millionth of a pitch decides ties, lest rounding decide them differently from line to line.
    const double first = std::floor(line_index - 0.5 * (count - 1) + 0.5 + 1e-6);
    return std::clamp(static_cast<int>(first), 1 - count, column_count(probe) - 1);
}

std::vector<int> nearest_elements(const Probe& probe, double lateral_m, int count) {
    std::vector<int> elements(static_cast<std::size_t>(count * probe.rows));
    std::iota(elements.begin(), elements.end(),
              probe.rows * std::clamp(first_of_nearest(probe, lateral_m, count), 0, column_count(probe) - count));
    return elements;
}

TransmitEvent focused_event(const Probe& probe, const FocusedTransmit& transmit, const ScanLine& line,
                            double sound_speed_m_s) {
    TransmitEvent event;
    event.kind = TransmitKind::focused;
    event.origin_m = line.origin_m;
    event.direction = line.direction;
    event.focus_m = line.origin_m + transmit.focus_m * line.direction;
    const std::vector<double> delays = focusing_delays(probe.elements, event.origin_m, event.focus_m, sound_speed_m_s);
    fire_columns(probe, transmit.window, first_of_nearest(probe, line.lateral_m, transmit.columns), transmit.columns,
                 delays, event);
    return event;
}

TransmitEvent diverging_event(const Probe& probe, const Window& window, int columns, double lateral_m, double behind_m,
                              double sound_speed_m_s) {
    const FacePlace place = face_place(probe, lateral_m);
    TransmitEvent event;
    event.kind = TransmitKind::diverging;
    event.origin_m = place.origin_m;
    event.direction = place.normal;
    event.focus_m = place.origin_m - behind_m * place.normal;
    const std::vector<double> delays = diverging_delays(probe.elements, event.origin_m, event.focus_m, sound_speed_m_s);
    const int first = columns == column_count(probe) ? 0 : first_of_nearest(probe, lateral_m, columns);
    fire_columns(probe, window, first, columns, delays, event);
    return event;
}

TransmitEvent swept_event(const Probe& probe, const HeadMotion& head, const SweptTransmit& transmit, double angle_rad,
                          double sound_speed_m_s) {
    const HeadPose pose = head_pose(head, angle_rad);
    const auto rings = static_cast<std::size_t>(transmit.rings);
    const double radius_m = probe.elements[rings - 1].outer_m;
    TransmitEvent event;
    event.kind = TransmitKind::focused;
    event.head_angle_rad = angle_rad;
    event.origin_m = pose.origin_m;
    event.direction = pose.normal;
    event.focus_m = pose.origin_m + transmit.focus_m * pose.normal;
    event.weight.assign(probe.elements.size(), 0.0);
    event.delay_s.assign(probe.elements.size(), 0.0);
    for (std::size_t ring = 0; ring < rings; ++ring) {
        const double at_m = ring_radius_m(probe.elements[ring]);
        event.weight[ring] = window_value(transmit.window, 0.5 * at_m / radius_m, transmit.rings);
        event.delay_s[ring] = (transmit.focus_m - std::hypot(transmit.focus_m, at_m)) / sound_speed_m_s;
    }
    return event;
}

TransmitEvent plane_event(const Probe& probe, const Window& window, double angle_rad, double sound_speed_m_s) {
    TransmitEvent event;
    event.kind = TransmitKind::plane;
    event.direction = direction_at(angle_rad);
    const std::vector<double> delays = plane_delays(probe.elements, event.origin_m, event.direction, sound_speed_m_s);
    fire_columns(probe, window, 0, column_count(probe), delays, event);
    return event;
}

TransmitEvent element_event(const Probe& probe, int element) {
    const auto index = static_cast<std::size_t>(element);
    TransmitEvent event;
    event.kind = TransmitKind::element;
    event.origin_m = probe.elements[index].center_m;
    event.direction = probe.elements[index].normal;
    event.delay_s.assign(probe.elements.size(), 0.0);
    event.weight.assign(probe.elements.size(), 0.0);
    event.weight[index] = 1.0;
    return event;
}

}  // namespace echoloom
