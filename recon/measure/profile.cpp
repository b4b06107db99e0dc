#include "recon/measure/profile.h"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "recon/measure/interpolate.h"

namespace echoloom {
namespace {

/// Between two samples the profile is searched at this many places for a crossing.
constexpr int steps_per_sample = 16;
/// Side lobes and shoulders are looked for this many widths beyond each crossing.
constexpr double rise_search_widths = 3.0;

/// From this many samples across the half-amplitude width the square of the profile is interpolated instead.
constexpr double square_from_samples = 4.0;

/// The crossings of a profile on either side of its peak, as fractional indices.
struct Crossings {
    std::optional<double> left, right;
};

/// Fractional index of the first crossing below `threshold` on the way from the peak in a direction (+1 or -1).
std::optional<double> first_crossing(std::span<const double> samples, double peak, double threshold, int direction) {
    const double end = direction > 0 ? static_cast<double>(samples.size() - 1) : 0.0;
    double inside = peak;
    while (inside != end) {
        double outside = inside + static_cast<double>(direction) / steps_per_sample;
        if ((outside - end) * direction > 0.0) outside = end;
        if (interpolate(samples, outside) < threshold) {
            for (int halving = 0; halving < 40; ++halving) {
                const double middle = 0.5 * (inside + outside);
                (interpolate(samples, middle) < threshold ? outside : inside) = middle;
            }
            return 0.5 * (inside + outside);
        }
        inside = outside;
    }
    return std::nullopt;
}

Crossings crossings_at(std::span<const double> samples, double peak, double level) {
    const double threshold = level * interpolate(samples, peak);
    return {first_crossing(samples, peak, threshold, -1), first_crossing(samples, peak, threshold, +1)};
}

/// An envelope has a cusp wherever the field under it passes through zero, which no kernel follows; its square is
/// smooth, but holds twice the band and so needs finer samples. Each is taken where it is the better one.
Crossings best_crossings(std::span<const double> samples, double peak, double level) {
    const Crossings half = crossings_at(samples, peak, 0.5);
    if (half.left && half.right && *half.right - *half.left < square_from_samples) {
        return level == 0.5 ? half : crossings_at(samples, peak, level);
    }
    std::vector<double> squares(samples.begin(), samples.end());
    for (double& value : squares) value *= value;
    return crossings_at(squares, peak, level * level);
}

}  // namespace

double value_at_index(std::span<const double> values, double index) {
    const double clamped = std::clamp(index, 0.0, static_cast<double>(values.size() - 1));
    const auto below = std::min(static_cast<std::size_t>(clamped), values.size() - 1);
    const auto above = std::min(below + 1, values.size() - 1);
    const double fraction = clamped - static_cast<double>(below);
    return values[below] + fraction * (values[above] - values[below]);
}

LevelWidth width_at_level(const Profile& profile, double peak, double level) {
    LevelWidth width;
    const std::span<const double> samples = profile.amplitude;
    const double threshold = level * interpolate(samples, peak);
    const auto [left, right] = best_crossings(samples, peak, level);
    if (!left || !right) {
        width.reason = "the image ends before the profile falls to this level";
        return width;
    }
    // Lines may be numbered from right to left; positions then descend.
    std::tie(width.left_m, width.right_m) =
        std::minmax({value_at_index(profile.position_m, *left), value_at_index(profile.position_m, *right)});
    width.width_m = width.right_m - width.left_m;
    width.samples = *right - *left;
    const double reach = rise_search_widths * width.samples;
    for (std::size_t n = 0; n < samples.size(); ++n) {
        const auto index = static_cast<double>(n);
        const bool beside =
            (index < *left - 1.0 && index > *left - reach) || (index > *right + 1.0 && index < *right + reach);
        if (beside && samples[n] > threshold) width.rises_again = true;
    }
    return width;
}

std::vector<double> level_dB(std::span<const double> amplitude, double reference, double floor_dB) {
    std::vector<double> levels(amplitude.size());
    std::transform(amplitude.begin(), amplitude.end(), levels.begin(), [&](double value) {
        return value > 0.0 ? std::max(floor_dB, 20.0 * std::log10(value / reference)) : floor_dB;
    });
    return levels;
}

}  // namespace echoloom
