#include "sim/engine/beam_pattern.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace echoloom {

namespace {

using std::numbers::pi;

constexpr double widest_rad = 89.0 * pi / 180.0;
constexpr double samples_a_lobe = 16.0;
constexpr double max_samples = 6000.0;

/// sin(x) / x
double sinc(double x) {
    return std::abs(x) < 1e-8 ? 1.0 : std::sin(x) / x;
}

/// From the top towards one side, the index at which the amplitude stops falling.
std::size_t valley(const std::vector<double>& amplitude, std::size_t top, int step) {
    auto i = static_cast<std::ptrdiff_t>(top);
    const auto last = static_cast<std::ptrdiff_t>(amplitude.size()) - 1;
    while (i + step >= 0 && i + step <= last &&
           amplitude[static_cast<std::size_t>(i + step)] < amplitude[static_cast<std::size_t>(i)]) {
        i += step;
    }
    return static_cast<std::size_t>(i);
}

/// A local maximum and its neighbours as a parabola.
Lobe refined(const BeamPattern& pattern, std::size_t i) {
    const double step = pattern.angle_rad[1] - pattern.angle_rad[0];
    if (i == 0 || i + 1 == pattern.amplitude.size()) {
        return {pattern.angle_rad[i], pattern.level(i)};
    }
    const double left = pattern.level(i - 1);
    const double middle = pattern.level(i);
    const double right = pattern.level(i + 1);
    const double bend = left - 2.0 * middle + right;
    const double off = bend < 0.0 ? 0.5 * (left - right) / bend : 0.0;
    return {pattern.angle_rad[i] + off * step, middle - 0.25 * (left - right) * off};
}

bool local_top(const BeamPattern& pattern, std::size_t i) {
    return i > 0 && i + 1 < pattern.amplitude.size() && pattern.amplitude[i] > pattern.amplitude[i - 1] &&
           pattern.amplitude[i] >= pattern.amplitude[i + 1];
}

/// The highest lobe between two angles beside the main one; where there is none, as of pulses, which smear theirs, the
/// highest amplitude.
std::optional<Lobe> highest_between(const BeamPattern& pattern, double min_rad, double max_rad) {
    std::optional<std::size_t> lobe;
    std::optional<std::size_t> highest;
    const auto higher = [&](std::size_t i, std::optional<std::size_t> than) {
        return !than || pattern.amplitude[i] > pattern.amplitude[*than];
    };
    for (std::size_t i = 0; i < pattern.angle_rad.size(); ++i) {
        const double angle = pattern.angle_rad[i];
        const bool main = angle >= pattern.valley_left_rad && angle <= pattern.valley_right_rad;
        if (main || angle < min_rad || angle > max_rad) {
            continue;
        }
        highest = higher(i, highest) ? i : highest;
        lobe = local_top(pattern, i) && higher(i, lobe) ? i : lobe;
    }
    if (lobe) {
        return refined(pattern, *lobe);
    }
    return highest ? std::optional(Lobe{pattern.angle_rad[*highest], pattern.level(*highest)}) : std::nullopt;
}

}  // namespace

double element_factor(const ArrayTheory& theory, double angle_rad) {
    return std::abs(sinc(pi * theory.element_m * std::sin(angle_rad) / theory.wavelength_m)) *
           (theory.soft ? std::cos(angle_rad) : 1.0);
}

void find_main_lobe(BeamPattern& pattern, double steer_rad, double lobe_rad) {
    // A grating lobe may be as high, so the main lobe is the highest within reach of the beam's direction.
    const double reach = std::max(2.0 * lobe_rad, 3.0 * pi / 180.0);
    double highest = -1.0;
    for (std::size_t i = 0; i < pattern.angle_rad.size(); ++i) {
        if (std::abs(pattern.angle_rad[i] - steer_rad) <= reach && pattern.amplitude[i] > highest) {
            highest = pattern.amplitude[i];
            pattern.top = i;
        }
    }
    pattern.valley_left_rad = pattern.angle_rad[valley(pattern.amplitude, pattern.top, -1)];
    pattern.valley_right_rad = pattern.angle_rad[valley(pattern.amplitude, pattern.top, 1)];
}

BeamPattern beam_pattern(const BeamField& field, const Vec3& origin_m, const Vec3& broadside, const Vec3& across,
                         double steer_rad, double aperture_m, std::optional<double> distance_m) {
    const double lobe = field.wavelength_m() / aperture_m;
    const auto half =
        static_cast<int>(std::ceil(std::clamp(widest_rad / (lobe / samples_a_lobe), 400.0, 0.5 * max_samples)));
    BeamPattern pattern;
    pattern.distance_m = distance_m;
    std::vector<Vec3> points;
    for (int i = -half; i <= half; ++i) {
        const double angle = widest_rad * i / half;
        const Vec3 direction = std::cos(angle) * broadside + std::sin(angle) * across;
        pattern.angle_rad.push_back(angle);
        if (distance_m) {
            points.push_back(origin_m + *distance_m * direction);
        } else {
            pattern.amplitude.push_back(field.far_amplitude_m(direction));
        }
    }
    if (distance_m) {
        pattern.amplitude = field.amplitudes(points);
    }
    find_main_lobe(pattern, steer_rad, lobe);
    return pattern;
}

std::vector<GratingLobe> grating_lobes(const BeamPattern& pattern, const ArrayTheory& theory, int ways) {
    std::vector<GratingLobe> lobes;
    if (theory.pitch_m <= 0.0) {
        return lobes;
    }
    const double steer = std::sin(theory.steer_rad);
    const double spacing = theory.wavelength_m / theory.pitch_m;
    const int most = static_cast<int>(std::ceil(2.0 / spacing));
    for (int order = -most; order <= most; ++order) {
        const double sine = steer + order * spacing;
        // The delays' curvature suits the main direction; seen from elsewhere the ends of the aperture aim aside.
        const double squares = std::abs(steer * steer - std::min(sine * sine, 1.0));
        const double smear = pattern.distance_m ? 0.5 * theory.aperture_m * squares / *pattern.distance_m : 0.0;
        const double half = smear + 1.5 * theory.wavelength_m / theory.aperture_m;
        if (order == 0 || std::abs(sine) - half > std::sin(widest_rad)) {
            continue;
        }
        GratingLobe lobe;
        lobe.order = order;
        lobe.sine = sine;
        if (std::abs(sine) <= 1.0) {
            lobe.angle_rad = std::asin(sine);
            lobe.level =
                std::pow(element_factor(theory, *lobe.angle_rad) / element_factor(theory, theory.steer_rad), ways);
        }
        lobe.min_rad = std::asin(std::clamp(sine - half, -1.0, 1.0));
        lobe.max_rad = std::asin(std::clamp(sine + half, -1.0, 1.0));
        // Its first side lobe ends two lambda / D from it.
        const double skirt = half + theory.wavelength_m / theory.aperture_m;
        const double high = steer + order * spacing / (1.0 + 0.5 * theory.bandwidth);
        const double low = steer + order * spacing / std::max(0.1, 1.0 - 0.5 * theory.bandwidth);
        lobe.skirt_min_rad = std::asin(std::clamp(std::min(low, high) - skirt, -1.0, 1.0));
        lobe.skirt_max_rad = std::asin(std::clamp(std::max(low, high) + skirt, -1.0, 1.0));
        lobe.found = highest_between(pattern, lobe.min_rad, lobe.max_rad);
        lobes.push_back(lobe);
    }
    return lobes;
}

std::optional<Lobe> peak_side_lobe(const BeamPattern& pattern, const std::vector<GratingLobe>& gratings) {
    std::optional<std::size_t> best;
    for (std::size_t i = 0; i < pattern.angle_rad.size(); ++i) {
        const double angle = pattern.angle_rad[i];
        const bool grating = std::ranges::any_of(gratings, [&](const GratingLobe& lobe) {
            return angle >= lobe.skirt_min_rad && angle <= lobe.skirt_max_rad;
        });
        if (!grating && (angle < pattern.valley_left_rad || angle > pattern.valley_right_rad) &&
            local_top(pattern, i) && (!best || pattern.amplitude[i] > pattern.amplitude[*best])) {
            best = i;
        }
    }
    return best ? std::optional(refined(pattern, *best)) : std::nullopt;
}

std::optional<double> pattern_width_rad(const BeamPattern& pattern) {
    const double half = 0.5 * refined(pattern, pattern.top).level * pattern.amplitude[pattern.top];
    const auto crossing = [&](int step) -> std::optional<double> {
        auto i = static_cast<std::ptrdiff_t>(pattern.top);
        const auto last = static_cast<std::ptrdiff_t>(pattern.amplitude.size()) - 1;
        const auto value = [&](std::ptrdiff_t at) { return pattern.amplitude[static_cast<std::size_t>(at)]; };
        while (value(i) >= half) {
            i += step;
            if (i < 0 || i > last) {
                return std::nullopt;
            }
        }
        const double share = (half - value(i)) / (value(i - step) - value(i));
        const double outer = pattern.angle_rad[static_cast<std::size_t>(i)];
        return outer + share * (pattern.angle_rad[static_cast<std::size_t>(i - step)] - outer);
    };
    const auto left = crossing(-1);
    const auto right = crossing(1);
    return left && right ? std::optional(*right - *left) : std::nullopt;
}

}  // namespace echoloom
