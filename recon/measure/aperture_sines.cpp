#include "recon/measure/aperture_sines.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "recon/beamform/focus_cone.h"

namespace echoloom {
namespace {

/// Transform of a disc of radius a and unit density: pi a^2 2 J1(q a) / (q a).
double disc_pattern(double radius, double q) {
    const double x = std::abs(q * radius);
    const double airy = x < 1e-6 ? 1.0 : 2.0 * std::cyl_bessel_j(1.0, x) / x;
    return std::numbers::pi * radius * radius * airy;
}

/// The sine of the lateral angle at which the point sees an element; of a ring, those of its edges.
void add_element(std::vector<Contribution>& sines, const RecordingInfo& info, const PointView& view, std::size_t index,
                 double weight) {
    const Element& element = info.probe.elements[index];
    if (element.is_ring()) {
        sines.push_back({element.outer_m / view.depth_m, weight, true});
        if (element.inner_m > 0.0) sines.push_back({element.inner_m / view.depth_m, -weight, true});
        return;
    }
    const Vec3 offset = element.center_m - view.origin_m;
    // The elements of a curved array lie behind its apex; those of a flat one are taken at the depth of the line's
    // origin, as paraxial theory does.
    const double depth = info.probe.radius_m > 0.0 ? view.depth_m - offset.dot(view.direction) : view.depth_m;
    sines.push_back({offset.dot(view.lateral) / depth, weight});
}

/// How fast the path of a focused event's front increases laterally at a point: the sine of its tilt there.
double front_slope(const RecordingInfo& info, std::size_t event, const PointView& view, const Vec3& point) {
    const FocusCone cone(info, event, info.medium.sound_speed_m_s);
    constexpr double step_m = 1e-6;
    return (cone.path_m(point + step_m * view.lateral) - cone.path_m(point - step_m * view.lateral)) / (2.0 * step_m);
}

}  // namespace

std::complex<double> complex_pattern(std::span<const Contribution> aperture, double phase_per_place) {
    std::complex<double> sum = 0.0;
    for (const auto& [place, weight, disc] : aperture) {
        sum += disc ? weight * disc_pattern(place, phase_per_place) : weight * std::polar(1.0, phase_per_place * place);
    }
    return sum;
}

double pattern(std::span<const Contribution> aperture, double phase_per_place) {
    return std::abs(complex_pattern(aperture, phase_per_place));
}

std::vector<Contribution> transmit_sines(const RecordingInfo& info, const Recipe& recipe, const PointView& view) {
    std::vector<Contribution> sines;
    const Vec3 point = view.at_depth(view.depth_m);
    const auto weights = event_weights(info, recipe, view, point);
    for (std::size_t n = 0; n < view.events.size(); ++n) {
        const TransmitEvent& event = *view.events[n];
        if (event.kind == TransmitKind::plane) {
            sines.push_back({-event.direction.dot(view.lateral), weights[n]});
            continue;
        }
        if (event.kind == TransmitKind::diverging) {
            sines.push_back({(event.focus_m - point).normalized().dot(view.lateral), weights[n]});
            continue;
        }
        if (event.kind == TransmitKind::focused && !view.line_scan) {
            if (weights[n] != 0.0) sines.push_back({-front_slope(info, n, view, point), weights[n]});
            continue;
        }
        for (std::size_t e = 0; e < info.probe.elements.size() && e < event.weight.size(); ++e) {
            const double weight = weights[n] * event.weight[e];
            if (weight != 0.0) add_element(sines, info, view, e, weight);
        }
    }
    return sines;
}

std::vector<Contribution> receive_sines(const RecordingInfo& info, const Recipe& recipe, const PointView& view) {
    std::vector<Contribution> sines;
    // Events of a sliding aperture receive around their own lines: those of the nearest stand for all.
    const auto away = [&](const TransmitEvent* event) { return (event->origin_m - view.origin_m).squaredNorm(); };
    const auto& receivers = (*std::ranges::min_element(view.events, {}, away))->receivers;
    const auto weights = receive_weights(info, recipe, receivers, view.origin_m, view.depth_m);
    for (std::size_t n = 0; n < weights.size(); ++n) {
        if (weights[n] != 0.0) add_element(sines, info, view, static_cast<std::size_t>(receivers[n]), weights[n]);
    }
    return sines;
}

double extent_of(std::span<const Contribution> sines) {
    double min_sine = std::numeric_limits<double>::infinity(), max_sine = -min_sine;
    for (const auto& [place, weight, disc] : sines) {
        min_sine = std::min(min_sine, disc ? -place : place);
        max_sine = std::max(max_sine, place);
    }
    return max_sine - min_sine;
}

}  // namespace echoloom
