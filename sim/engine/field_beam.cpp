#include "sim/engine/field_beam.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <utility>
#include <vector>

#include "sim/array/face.h"

namespace echoloom {

namespace {

using std::numbers::pi;

/// Amplitude as a function of a place across the beam or of an angle.
using Profile = std::function<double(double)>;

/// Golden-section search for the maximum of a function with one peak between two places.
double peak_between(const Profile& amplitude, double left, double right, double precision) {
    const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
    double a = right - golden * (right - left);
    double b = left + golden * (right - left);
    double at_a = amplitude(a);
    double at_b = amplitude(b);
    while (right - left > precision) {
        if (at_a < at_b) {
            left = std::exchange(a, b);
            at_a = at_b;
            b = left + golden * (right - left);
            at_b = amplitude(b);
        } else {
            right = std::exchange(b, a);
            at_b = at_a;
            a = right - golden * (right - left);
            at_a = amplitude(a);
        }
    }
    return 0.5 * (left + right);
}

double crossing_between(const Profile& amplitude, double level, double below, double above, double precision) {
    while (std::abs(above - below) > precision) {
        const double middle = 0.5 * (below + above);
        (amplitude(middle) < level ? below : above) = middle;
    }
    return 0.5 * (below + above);
}

/// From samples at equal steps over (-window, window) to exact places; nothing where the window's ends are above half.
std::optional<BeamEdges> outermost_half(const Profile& amplitude, const std::vector<double>& samples, double window) {
    const double step = 2.0 * window / static_cast<double>(samples.size() - 1);
    const auto place = [&](std::size_t i) { return -window + static_cast<double>(i) * step; };
    const auto highest = static_cast<std::size_t>(std::ranges::max_element(samples) - samples.begin());
    const double precision = 1e-7 * window;
    const double peak = amplitude(peak_between(amplitude, place(highest) - step, place(highest) + step, precision));
    const double half = 0.5 * std::max(peak, samples[highest]);
    if (!(half > 0.0) || samples.front() >= half || samples.back() >= half) {
        return std::nullopt;
    }
    const auto above = [&](double sample) { return sample >= half; };
    const auto first = static_cast<std::size_t>(std::ranges::find_if(samples, above) - samples.begin());
    const auto last =
        samples.size() - 1 -
        static_cast<std::size_t>(std::find_if(samples.rbegin(), samples.rend(), above) - samples.rbegin());
    if (first >= samples.size()) {
        return std::nullopt;
    }
    return BeamEdges{crossing_between(amplitude, half, place(first - 1), place(first), precision),
                     crossing_between(amplitude, half, place(last + 1), place(last), precision)};
}

/// Whether a local maximum is more than a ripple on the slope of a larger one before it: the curve falls by a hundredth
/// before it rises above.
bool stands_out(const std::vector<double>& curve, std::size_t top) {
    for (std::size_t i = top; i-- > 0 && curve[i] <= curve[top];) {
        if (curve[i] < 0.99 * curve[top]) {
            return true;
        }
    }
    return false;
}

double focal_growth(const Probe& probe, const TransmitEvent& event) {
    if (event.focus_m.allFinite()) {
        return 1.0 / (event.focus_m - event.origin_m).norm();
    }
    const bool at_once = std::ranges::all_of(event.delay_s, [](double delay) { return delay == 0.0; });
    return at_once && probe.radius_m > 0.0 ? 1.0 / probe.radius_m : 0.0;
}

}  // namespace

BeamAperture beam_aperture(const Probe& probe, const TransmitEvent& event) {
    BeamAperture aperture;
    aperture.growth_per_m = focal_growth(probe, event);
    double least = 0.0;
    double most = 0.0;
    double weight = 0.0;
    bool equal = true;
    bool at_once = true;
    for (std::size_t e = 0; e < probe.elements.size(); ++e) {
        if (event.weight[e] == 0.0) {
            continue;
        }
        const Element& element = probe.elements[e];
        const double along = face_lateral_m(probe, element.center_m);
        const double half = 0.5 * std::max(element.width_m, element.is_ring() ? 0.0 : probe.pitch_m);
        const bool first = weight == 0.0;
        least = first ? along - half : std::min(least, along - half);
        most = first ? along + half : std::max(most, along + half);
        weight = first ? event.weight[e] : weight;
        equal = equal && event.weight[e] == weight;
        at_once = at_once && event.delay_s[e] == 0.0;
        aperture.shape = element.is_ring() ? BeamAperture::Shape::disc : BeamAperture::Shape::strip;
    }
    aperture.width_m = most - least;
    aperture.plain = equal && at_once && probe.radius_m == 0.0;
    return aperture;
}

BeamAxis beam_axis(const TransmitEvent& event) {
    return {event.origin_m, event.direction, Vec3(event.direction.z(), 0.0, -event.direction.x())};
}

double near_zone_m(const BeamAperture& aperture, double wavelength_m) {
    const double constant = aperture.shape == BeamAperture::Shape::disc ? 0.25 : strip_near_zone;
    return constant * aperture.width_m * aperture.width_m / wavelength_m;
}

std::optional<double> theory_half_angle_rad(const BeamAperture& aperture, double wavelength_m, int ways) {
    const bool disc = aperture.shape == BeamAperture::Shape::disc;
    const double constant = ways == 2 ? (disc ? 0.514497 : 0.442946) : (disc ? 0.705085 : 0.603355);
    const double sine = constant * wavelength_m / aperture.width_m;
    return sine < 1.0 ? std::optional(std::asin(sine)) : std::nullopt;
}

std::optional<double> last_axial_maximum_m(const BeamField& field, const BeamAxis& axis, double min_m, double max_m) {
    constexpr std::size_t samples = 800;
    std::vector<Vec3> points;
    std::vector<double> depths;
    for (std::size_t i = 0; i < samples; ++i) {  // equal ratios: the maxima crowd towards the face
        depths.push_back(min_m * std::pow(max_m / min_m, static_cast<double>(i) / (samples - 1)));
        points.push_back(axis.point(depths.back()));
    }
    const std::vector<double> amplitude = field.amplitudes(points);
    for (std::size_t i = samples - 2; i > 0; --i) {
        if (amplitude[i] >= amplitude[i + 1] && amplitude[i] > amplitude[i - 1] && stands_out(amplitude, i)) {
            return peak_between([&](double depth) { return field.amplitude(axis.point(depth)); }, depths[i - 1],
                                depths[i + 1], 1e-9 * depths[i]);
        }
    }
    return std::nullopt;
}

std::optional<BeamEdges> beam_edges(const BeamField& field, const BeamAperture& aperture, const BeamAxis& axis,
                                    double depth_m) {
    const double lambda = field.wavelength_m();
    const double spread = 2.0 * lambda * depth_m / aperture.width_m;
    const double window = 0.5 * aperture.width_m * (1.0 + depth_m * aperture.growth_per_m) + spread + lambda;
    // Several samples for each lobe, of lambda z / D, and for the ripple of a near field.
    const double step = std::max(0.15 * std::max(lambda, lambda * depth_m / aperture.width_m), window / 250.0);
    const auto count = 2 * static_cast<std::size_t>(std::ceil(window / step)) + 1;
    std::vector<Vec3> points;
    for (std::size_t i = 0; i < count; ++i) {
        points.push_back(
            axis.point(depth_m, window * (2.0 * static_cast<double>(i) / static_cast<double>(count - 1) - 1.0)));
    }
    return outermost_half([&](double across) { return field.amplitude(axis.point(depth_m, across)); },
                          field.amplitudes(points), window);
}

std::optional<double> far_half_angle_rad(const BeamField& field, const BeamAperture& aperture, const BeamAxis& axis) {
    constexpr std::size_t count = 4001;
    const double spread = 2.0 * field.wavelength_m() / aperture.width_m;
    const double window = std::min(std::atan(0.5 * aperture.width_m * aperture.growth_per_m) + spread, 0.5 * pi - 0.01);
    const Profile amplitude = [&](double angle) {
        return field.far_amplitude_m(std::cos(angle) * axis.direction + std::sin(angle) * axis.across);
    };
    std::vector<double> samples;
    for (std::size_t i = 0; i < count; ++i) {
        samples.push_back(amplitude(window * (2.0 * static_cast<double>(i) / (count - 1) - 1.0)));
    }
    const auto edges = outermost_half(amplitude, samples, window);
    return edges ? std::optional(0.5 * edges->width_m()) : std::nullopt;
}

}  // namespace echoloom
