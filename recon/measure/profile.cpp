#include "recon/measure/profile.h"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "recon/measure/interpolate.h"

namespace echoloom {
namespace {

/// Between two samples the profile is evaluated this many times in search of a crossing.
constexpr int steps_per_sample = 16;
/// From this many samples to the -6 dB width on, the square of the profile is interpolated instead.
constexpr double square_from_samples = 4.0;

/// Fractional indices between which a profile is searched.
struct Limits {
    double first, last;
};

/// Where a profile crosses a level, as fractional indices: around the peak, and outermost.
struct Crossings {
    std::optional<double> inner_left, inner_right, outer_left, outer_right;
};

/// First place from `start` on the way to `end` where being above the threshold changes; nothing where it never does.
std::optional<double> first_change(std::span<const double> samples, double start, double end, double threshold) {
    const auto above = [&](double index) { return interpolate(samples, index) >= threshold; };
    const bool at_start = above(start);
    const double step = (end > start ? 1.0 : -1.0) / steps_per_sample;
    for (double before = start; before != end;) {
        double after = before + step;
        if ((after - end) * step > 0.0) after = end;
        if (above(after) != at_start) {
            for (int halving = 0; halving < 40; ++halving) {
                const double middle = 0.5 * (before + after);
                (above(middle) == at_start ? before : after) = middle;
            }
            return 0.5 * (before + after);
        }
        before = after;
    }
    return std::nullopt;
}

/// From the end of the search inwards; nothing where the profile is above the threshold at the very end.
std::optional<double> outermost(std::span<const double> samples, double end, double peak, double threshold) {
    if (interpolate(samples, end) >= threshold) return std::nullopt;
    return first_change(samples, end, peak, threshold);
}

Crossings crossings_at(std::span<const double> samples, double peak, double level, const Limits& limits) {
    const double threshold = level * interpolate(samples, peak);
    return {first_change(samples, peak, limits.first, threshold), first_change(samples, peak, limits.last, threshold),
            outermost(samples, limits.first, peak, threshold), outermost(samples, limits.last, peak, threshold)};
}

/// An envelope has a cusp wherever the field under it passes through zero, which no kernel follows; its square is
/// smooth, but holds twice the band and so needs finer samples. Each is taken where it is the better one.
Crossings best_crossings(std::span<const double> samples, double peak, double level, const Limits& limits) {
    const Crossings half = crossings_at(samples, peak, 0.5, limits);
    if (half.inner_left && half.inner_right && *half.inner_right - *half.inner_left < square_from_samples) {
        return level == 0.5 ? half : crossings_at(samples, peak, level, limits);
    }
    std::vector<double> squares(samples.begin(), samples.end());
    for (double& value : squares) value *= value;
    return crossings_at(squares, peak, level * level, limits);
}

/// Fractional index of a position among monotonic ones, clamped to their ends.
double index_of_position(std::span<const double> positions, double position) {
    const bool ascending = positions.back() >= positions.front();
    const auto passed = [&](double other) { return ascending ? other < position : other > position; };
    std::size_t above = 0;
    while (above < positions.size() && passed(positions[above])) ++above;
    if (above == 0) return 0.0;
    if (above == positions.size()) return static_cast<double>(positions.size() - 1);
    const double low = positions[above - 1];
    return static_cast<double>(above - 1) + (position - low) / (positions[above] - low);
}

constexpr const char* image_ends = "the image ends before the profile falls to this level";

}  // namespace

double value_at_index(std::span<const double> values, double index) {
    const double clamped = std::clamp(index, 0.0, static_cast<double>(values.size() - 1));
    const auto below = std::min(static_cast<std::size_t>(clamped), values.size() - 1);
    const auto above = std::min(below + 1, values.size() - 1);
    const double fraction = clamped - static_cast<double>(below);
    return values[below] + fraction * (values[above] - values[below]);
}

LevelWidth width_at_level(const Profile& profile, double peak, double level, const Reach& reach) {
    LevelWidth width;
    const std::span<const double> positions = profile.position_m;
    // Lines may be numbered from right to left; positions then descend.
    const bool ascending = positions.back() >= positions.front();
    const double from = index_of_position(positions, reach.from_m);
    const double to = index_of_position(positions, reach.to_m);
    const Limits limits{std::min(peak, std::min(from, to)), std::max(peak, std::max(from, to))};
    const Crossings at = best_crossings(profile.amplitude, peak, level, limits);
    if (!at.outer_left || !at.outer_right) {
        const bool at_from = ascending ? !at.outer_left : !at.outer_right;
        const double end = at_from ? from : to;
        const bool image_end = end == 0.0 || end == static_cast<double>(positions.size() - 1);
        width.reason = image_end ? image_ends : at_from ? reach.before_from : reach.beyond_to;
        return width;
    }
    std::tie(width.left_m, width.right_m) =
        std::minmax({value_at_index(positions, *at.outer_left), value_at_index(positions, *at.outer_right)});
    width.width_m = width.right_m - width.left_m;
    width.samples = at.inner_right.value_or(*at.outer_right) - at.inner_left.value_or(*at.outer_left);
    width.lobes = *at.outer_right - *at.outer_left > width.samples + 1.0 / steps_per_sample;
    return width;
}

Profile upsampled(Profile profile, int factor) {
    if (factor <= 1 || profile.amplitude.empty()) return profile;
    Profile fine;
    const std::size_t count = (profile.amplitude.size() - 1) * static_cast<std::size_t>(factor) + 1;
    for (std::size_t n = 0; n < count; ++n) {
        const double index = static_cast<double>(n) / factor;
        fine.position_m.push_back(value_at_index(profile.position_m, index));
        fine.amplitude.push_back(std::max(0.0, interpolate(profile.amplitude, index)));
    }
    return fine;
}

std::vector<double> level_dB(std::span<const double> amplitude, double reference, double floor_dB) {
    std::vector<double> levels(amplitude.size());
    std::transform(amplitude.begin(), amplitude.end(), levels.begin(), [&](double value) {
        return value > 0.0 ? std::max(floor_dB, 20.0 * std::log10(value / reference)) : floor_dB;
    });
    return levels;
}

}  // namespace echoloom
