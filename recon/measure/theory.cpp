#include "recon/measure/theory.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>
#include <vector>

#include "recon/beamform/focus_cone.h"
#include "recon/measure/point_view.h"

namespace echoloom {
namespace {

/// A weight at a place in the aperture, the place in any unit; or a disc of that radius about 0, its weight per area.
struct Contribution {
    double place;
    double weight;
    bool disc = false;
};

/// Transform of a disc of radius a and unit density: pi a^2 2 J1(q a) / (q a).
double disc_pattern(double radius, double q) {
    const double x = std::abs(q * radius);
    const double airy = x < 1e-6 ? 1.0 : 2.0 * std::cyl_bessel_j(1.0, x) / x;
    return std::numbers::pi * radius * radius * airy;
}

double pattern(std::span<const Contribution> aperture, double phase_per_place) {
    std::complex<double> sum = 0.0;
    for (const auto& [place, weight, disc] : aperture) {
        sum += disc ? weight * disc_pattern(place, phase_per_place) : weight * std::polar(1.0, phase_per_place * place);
    }
    return std::abs(sum);
}

/// Where the product of two patterns first falls to `level` of its value at zero, going up from zero. `scale` is a
/// phase per place well inside the main lobe's half width times 16. Infinite where nothing makes a lobe of it, as with
/// one element on either side.
double half_width(std::span<const Contribution> transmit, std::span<const Contribution> receive, double level,
                  double scale) {
    const auto product = [&](double u) { return pattern(transmit, u) * pattern(receive, u); };
    const double threshold = level * product(0.0);
    double inside = 0.0;
    double outside = scale / 16.0;
    while (product(outside) >= threshold) {
        inside = outside;
        outside += scale / 16.0;
        if (outside > 64.0 * scale) return std::numeric_limits<double>::infinity();
    }
    for (int halving = 0; halving < 60; ++halving) {
        const double middle = 0.5 * (inside + outside);
        (product(middle) >= threshold ? inside : outside) = middle;
    }
    return 0.5 * (inside + outside);
}

std::vector<Contribution> centred(std::span<const double> weights) {
    std::vector<Contribution> aperture;
    const double middle = 0.5 * (static_cast<double>(weights.size()) - 1.0);
    for (std::size_t n = 0; n < weights.size(); ++n) aperture.push_back({static_cast<double>(n) - middle, weights[n]});
    return aperture;
}

/// The sine, seen from the point across the beam, under which an element lies; of a ring, those of its edges.
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
    // origin, as the rule does.
    const double depth = info.probe.radius_m > 0.0 ? view.depth_m - offset.dot(view.direction) : view.depth_m;
    sines.push_back({offset.dot(view.across) / depth, weight});
}

/// How fast the way of a focused event's front grows across the beam at a point: the sine of its tilt there.
double front_slope(const RecordingInfo& info, std::size_t event, const PointView& view, const Vec3& point) {
    const FocusCone cone(info, event, info.medium.sound_speed_m_s);
    constexpr double step_m = 1e-6;
    return (cone.path_m(point + step_m * view.across) - cone.path_m(point - step_m * view.across)) / (2.0 * step_m);
}

/// What the transmit side adds up at a point: the sines under which its parts arrive.
std::vector<Contribution> transmit_sines(const RecordingInfo& info, const Recipe& recipe, const PointView& view) {
    std::vector<Contribution> sines;
    const Vec3 point = view.at_depth(view.depth_m);
    const auto weights = event_weights(info, recipe, view, point);
    for (std::size_t n = 0; n < view.events.size(); ++n) {
        const TransmitEvent& event = *view.events[n];
        if (event.kind == TransmitKind::plane) {
            sines.push_back({-event.direction.dot(view.across), weights[n]});
            continue;
        }
        if (event.kind == TransmitKind::diverging) {
            sines.push_back({(event.focus_m - point).normalized().dot(view.across), weights[n]});
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
    // Events of a sliding aperture listen around their own lines: those of the nearest stand for all.
    const auto away = [&](const TransmitEvent* event) { return (event->origin_m - view.origin_m).squaredNorm(); };
    const auto& listeners = (*std::ranges::min_element(view.events, {}, away))->listeners;
    const auto weights = receive_weights(info, recipe, listeners, view.origin_m, view.depth_m);
    for (std::size_t n = 0; n < weights.size(); ++n) {
        if (weights[n] != 0.0) add_element(sines, info, view, static_cast<std::size_t>(listeners[n]), weights[n]);
    }
    return sines;
}

/// Sines from the one farthest to one side to that farthest to the other.
double extent_of(std::span<const Contribution> sines) {
    double least = std::numeric_limits<double>::infinity(), most = -least;
    for (const auto& [place, weight, disc] : sines) {
        least = std::min(least, disc ? -place : place);
        most = std::max(most, place);
    }
    return most - least;
}

}  // namespace

double width_constant(std::span<const double> transmit, std::span<const double> receive, double level) {
    const std::vector<double> one{1.0};
    const auto first = centred(transmit);
    const auto second = centred(receive.empty() ? std::span<const double>(one) : receive);
    const auto count = static_cast<double>(std::max(first.size(), second.size()));
    // phase per pitch psi = 2 pi u / count at an offset of u lambda z / (count pitch)
    const double half = half_width(first, second, level, 2.0 * std::numbers::pi / count);
    return 2.0 * half * count / (2.0 * std::numbers::pi);
}

double two_way_constant(const Window& window, int count) {
    const auto weights = window_at_centers(window, count);
    return width_constant(weights, weights, 0.5);
}

double one_way_constant(const Window& window, int count) {
    return width_constant(window_at_centers(window, count), {}, 0.5);
}

double axial_rule_m(const Probe& probe, double sound_speed_m_s, double level) {
    const double half_amplitude =
        2.0 * std::numbers::ln2 / std::numbers::pi * sound_speed_m_s / (probe.bandwidth_fraction * probe.center_Hz);
    return half_amplitude * std::sqrt(-std::log2(level));
}

double lateral_rule_m(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m, double level) {
    const PointView view = view_of(info, recipe, point_m);
    const auto transmit = transmit_sines(info, recipe, view);
    const auto receive = receive_sines(info, recipe, view);
    double extent = 0.0;
    for (const auto* aperture : {&transmit, &receive}) {
        if (aperture->empty()) return std::numeric_limits<double>::infinity();
        extent = std::max(extent, extent_of(*aperture));
    }
    const double wave_number = 2.0 * std::numbers::pi / info.probe.wavelength_m(info.medium.sound_speed_m_s);
    if (!(extent > 0.0)) return std::numeric_limits<double>::infinity();
    const double half = half_width(transmit, receive, level, 2.0 * std::numbers::pi / extent);
    return 2.0 * half / wave_number;
}

}  // namespace echoloom
