#include "recon/measure/side_lobe.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "recon/measure/grid_place.h"
#include "recon/measure/interpolate.h"

namespace echoloom {
namespace {

constexpr int steps_per_sample = 16;
/// From this many samples across the main lobe the square of the profile is interpolated: an envelope has cusps, its
/// square has none, but twice the band.
constexpr double square_from_samples = 4.0;
/// Interpolation errs by a small share of the peak: little in amplitude, but 1e-4 in power is -40 dB. So squares are
/// used above -30 dB only.
constexpr double square_above = 1e-3;
/// A minimum counts as the end of the main lobe where the profile rises again by this much (1 dB, power).
const double rise = std::pow(10.0, 0.1);
/// Below this (power, -60 dB) lie the errors of interpolation; lobes there are ignored.
constexpr double floor_power = 1e-6;
/// The resampled patch around a point has at least this many samples to the half-amplitude width.
constexpr double patch_samples = 16.0;

double square(double value) {
    return value * value;
}

/// Power between the samples of a profile.
class Power {
  public:
    explicit Power(std::vector<double> amplitude, double peak) : values_(std::move(amplitude)) {
        double left = peak, right = peak;
        const double half = 0.5 * interpolate(values_, peak);
        const auto last = static_cast<double>(values_.size() - 1);
        while (left > 0.0 && interpolate(values_, left) > half) left -= 0.125;
        while (right < last && interpolate(values_, right) > half) right += 0.125;
        if (right - left < square_from_samples) return;
        squares_ = values_;
        for (double& value : squares_) value *= value;
        min_square_ = square_above * square(2.0 * half);
    }
    double at(double index) const {
        if (!squares_.empty()) {
            const double power = interpolate(squares_, index);
            if (power > min_square_) return power;
        }
        return square(interpolate(values_, index));
    }

  private:
    std::vector<double> values_, squares_;
    double min_square_ = 0.0;
};

/// One side of a profile, sampled finely from the peak outwards.
struct Flank {
    std::vector<double> index, power;
    std::size_t end_of_main = 0;  ///< index into both; their size where no side lobe follows
    std::size_t side_lobe = 0;    ///< index of its maximum
};

Flank walk(const Power& profile, double peak, double end) {
    Flank flank;
    const double step = (end > peak ? 1.0 : -1.0) / steps_per_sample;
    const auto count = static_cast<std::size_t>(std::floor(std::abs(end - peak) * steps_per_sample)) + 1;
    for (std::size_t n = 0; n < count; ++n) {
        flank.index.push_back(peak + static_cast<double>(n) * step);
        flank.power.push_back(profile.at(flank.index.back()));
    }
    for (double& power : flank.power) power = std::max(power, floor_power * flank.power.front());
    const double quarter = 0.25 * flank.power.front();
    std::size_t lowest = 0;
    flank.end_of_main = flank.side_lobe = count;
    for (std::size_t n = 0; n < count; ++n) {
        if (flank.power[n] < flank.power[lowest]) lowest = n;
        const bool fallen = flank.power[lowest] < quarter;
        if (fallen && flank.power[n] > rise * flank.power[lowest]) {
            flank.end_of_main = lowest;
            flank.side_lobe = static_cast<std::size_t>(
                std::max_element(flank.power.begin() + static_cast<std::ptrdiff_t>(lowest), flank.power.end()) -
                flank.power.begin());
            return flank;
        }
    }
    return flank;
}

/// Energies of a flank on either side of the end of its main lobe, by trapezoids.
std::pair<double, double> energies(const Flank& flank) {
    double inside = 0.0, outside = 0.0;
    for (std::size_t n = 1; n < flank.power.size(); ++n) {
        (n <= flank.end_of_main ? inside : outside) += 0.5 * (flank.power[n - 1] + flank.power[n]);
    }
    return {inside, outside};
}

double index_at(const Profile& profile, double position) {
    const auto& places = profile.position_m;
    const double step = (places.back() - places.front()) / static_cast<double>(places.size() - 1);
    return std::clamp((position - places.front()) / step, 0.0, static_cast<double>(places.size() - 1));
}

/// Energy of the image around a point by distance from it, in thin rings.
std::vector<double> energy_by_distance(const Image& image, const PointMeasurement& point, double reach_m,
                                       double ring_m) {
    const SampleView field{image.envelope, image.columns, image.depths};
    const auto& depths = depths_of(image.grid);
    const double depth_step =
        (depths.back() - depths.front()) / static_cast<double>(std::max<std::size_t>(depths.size() - 1, 1));
    const LateralCut cut = lateral_cut(image.grid, {point.column, point.depth_index});
    const double column_step = std::abs(cut.position_m.back() - cut.position_m.front()) /
                               static_cast<double>(std::max<std::size_t>(cut.position_m.size() - 1, 1));
    const auto finer = [](double step, const LevelWidth& width) {
        return std::max(1, static_cast<int>(std::ceil(patch_samples * step / width.width_m.value_or(step * 16.0))));
    };
    const int lateral = finer(column_step, point.lateral_6dB), axial = finer(depth_step, point.axial_6dB);
    const double from_column = std::max(0.0, point.column - reach_m / column_step);
    const double to_column = std::min(static_cast<double>(image.columns - 1), point.column + reach_m / column_step);
    const double from_depth = std::max(0.0, point.depth_index - reach_m / depth_step);
    const double to_depth = std::min(static_cast<double>(image.depths - 1), point.depth_index + reach_m / depth_step);
    const auto count = [](double from, double to, int factor) {
        return static_cast<std::size_t>(std::floor((to - from) * factor)) + 1;
    };
    const std::size_t wide = count(from_column, to_column, lateral), tall = count(from_depth, to_depth, axial);

    // Columns first, each at the fine depths; then laterally, depth by depth.
    const auto first = static_cast<std::size_t>(std::max(0.0, std::floor(from_column) - 8.0));
    const auto last = std::min(image.columns - 1, static_cast<std::size_t>(std::ceil(to_column)) + 8);
    std::vector<std::vector<double>> columns(tall, std::vector<double>(last - first + 1));
    for (std::size_t c = first; c <= last; ++c) {
        const SampleView one{field.values.subspan(c * image.depths, image.depths), 1, image.depths};
        for (std::size_t d = 0; d < tall; ++d) {
            columns[d][c - first] = interpolate(one, 0.0, from_depth + static_cast<double>(d) / axial);
        }
    }
    std::vector<double> rings(static_cast<std::size_t>(reach_m / ring_m) + 1, 0.0);
    for (std::size_t w = 0; w < wide; ++w) {
        const double column = from_column + static_cast<double>(w) / lateral;
        const Column line = column_at(image.grid, column);
        for (std::size_t d = 0; d < tall; ++d) {
            const double depth = value_at_index(depths, from_depth + static_cast<double>(d) / axial);
            const Vec3 place = line.origin_m + depth * line.direction;
            const auto ring = static_cast<std::size_t>((place - point.peak_m).norm() / ring_m);
            if (ring >= rings.size()) continue;
            const double amplitude = interpolate(columns[d], column - static_cast<double>(first));
            rings[ring] += amplitude * amplitude;
        }
    }
    return rings;
}

}  // namespace

SideLobes side_lobes(const Profile& profile, double peak, double from_m, double to_m) {
    SideLobes lobes;
    if (profile.amplitude.size() < 3) {
        lobes.reason = "the profile has fewer than 3 samples";
        return lobes;
    }
    const Power power(profile.amplitude, peak);
    const double one = index_at(profile, from_m), other = index_at(profile, to_m);
    const Flank low = walk(power, peak, std::min({one, other, peak}));
    const Flank high = walk(power, peak, std::max({one, other, peak}));
    const auto place = [&](const Flank& flank, std::size_t n) {
        return value_at_index(profile.position_m, flank.index[std::min(n, flank.index.size() - 1)]);
    };
    const Flank* best = nullptr;
    for (const Flank* flank : {&low, &high}) {
        if (flank->side_lobe == flank->power.size()) continue;
        if (!best || flank->power[flank->side_lobe] > best->power[best->side_lobe]) best = flank;
    }
    const double a = place(low, low.end_of_main), b = place(high, high.end_of_main);
    lobes.main_from_m = std::min(a, b);
    lobes.main_to_m = std::max(a, b);
    if (!best) {
        lobes.reason = "no side lobe: the profile falls throughout the search range";
        return lobes;
    }
    lobes.peak_side_lobe_dB = 10.0 * std::log10(best->power[best->side_lobe] / low.power.front());
    lobes.peak_side_lobe_m = place(*best, best->side_lobe);
    lobes.rising = best->side_lobe + 1 >= best->power.size();
    const auto [inside_low, outside_low] = energies(low);
    const auto [inside_high, outside_high] = energies(high);
    lobes.integrated_side_lobe_ratio_dB = 10.0 * std::log10((outside_low + outside_high) / (inside_low + inside_high));
    return lobes;
}

CysticResolution cystic_resolution(const Image& image, const PointMeasurement& point, double reach_m,
                                   double energy_outside) {
    CysticResolution cystic;
    cystic.within_m = reach_m;
    const double min_width = std::min(point.axial_6dB.width_m.value_or(0.0), point.lateral_6dB.width_m.value_or(0.0));
    if (!point.found || !(min_width > 0.0)) {
        cystic.reason = "a -6 dB width is missing";
        return cystic;
    }
    if (reach_m < 1.5 * std::max(*point.lateral_6dB.width_m, *point.axial_6dB.width_m)) {
        cystic.reason = "its neighbours, or the image's edge, are too close to measure its energy";
        return cystic;
    }
    const double ring_m = min_width / 16.0;
    const std::vector<double> rings = energy_by_distance(image, point, reach_m, ring_m);
    double total = 0.0;
    for (const double ring : rings) total += ring;
    double outside = total;
    for (std::size_t n = 0; n < rings.size(); ++n) {
        const double after = outside - rings[n];
        if (after <= energy_outside * total) {
            const double part = rings[n] > 0.0 ? (outside - energy_outside * total) / rings[n] : 0.0;
            cystic.radius_m = (static_cast<double>(n) + part) * ring_m;
            break;
        }
        outside = after;
    }
    // Where the energy still grows with the area at the rim, it comes from the surroundings.
    if (!cystic.radius_m || *cystic.radius_m > 0.8 * reach_m) {
        cystic.radius_m.reset();
        cystic.reason = "the surroundings of the point contain more than 1 % of the energy";
    }
    return cystic;
}

}  // namespace echoloom
