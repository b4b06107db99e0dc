#include "sim/array/transmit.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/array/delay_law.h"

namespace echoloom {

namespace {

int element_count(const Probe& probe) {
    return static_cast<int>(probe.elements.size());
}

Vec3 direction_at(double angle_rad) {
    return {std::sin(angle_rad), 0.0, std::cos(angle_rad)};
}

}  // namespace

double half_width_m(const Probe& probe) {
    return 0.5 * static_cast<double>(probe.elements.size()) * probe.pitch_m;
}

int first_of_nearest(const Probe& probe, double x_m, int count) {
    const double line_index = (x_m - probe.elements.front().center_m.x()) / probe.pitch_m;
    // A millionth of a pitch decides ties, lest rounding decide them differently from line to line.
    const double first = std::floor(line_index - 0.5 * (count - 1) + 0.5 + 1e-6);
    return std::clamp(static_cast<int>(first), 1 - count, element_count(probe) - 1);
}

std::vector<int> nearest_elements(const Probe& probe, double x_m, int count) {
    std::vector<int> elements(static_cast<std::size_t>(count));
    std::iota(elements.begin(), elements.end(),
              std::clamp(first_of_nearest(probe, x_m, count), 0, element_count(probe) - count));
    return elements;
}

TransmitEvent focused_event(const Probe& probe, const FocusedTransmit& transmit, double x_m, double sound_speed_m_s) {
    TransmitEvent event;
    event.kind = TransmitKind::focused;
    event.origin_m = Vec3(x_m, 0.0, 0.0);
    event.direction = direction_at(transmit.steer_rad);
    event.focus_m = event.origin_m + transmit.focus_m * event.direction;
    event.weight.assign(probe.elements.size(), 0.0);
    event.delay_s.assign(probe.elements.size(), 0.0);
    const std::vector<double> delays = focusing_delays(probe.elements, event.origin_m, event.focus_m, sound_speed_m_s);
    const std::vector<double> weights = window_at_centers(transmit.window, transmit.elements);
    const int first = first_of_nearest(probe, x_m, transmit.elements);
    const int end = std::min(first + transmit.elements, element_count(probe));
    for (int i = std::max(first, 0); i < end; ++i) {
        const auto element = static_cast<std::size_t>(i);
        event.weight[element] = weights[static_cast<std::size_t>(i - first)];
        event.delay_s[element] = delays[element];
    }
    return event;
}

TransmitEvent plane_event(const Probe& probe, const Window& window, double angle_rad, double sound_speed_m_s) {
    TransmitEvent event;
    event.kind = TransmitKind::plane;
    event.direction = direction_at(angle_rad);
    event.delay_s = plane_delays(probe.elements, event.origin_m, event.direction, sound_speed_m_s);
    event.weight = window_at_centers(window, element_count(probe));
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
