#include "recon/measure/penetration.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "recon/image/envelope.h"
#include "recon/measure/grid_place.h"
#include "recon/measure/point_view.h"
#include "recon/measure/region_pixels.h"
#include "recon/measure/theory.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// Noise is taken at least this far below everything that scatters: pulse length and side lobes extend an echo.
constexpr double clear_m = 3e-3;
/// Pixels needed for an rms of noise, and of speckle at one depth.
constexpr std::size_t min_noise_pixels = 400;
constexpr std::size_t min_row_pixels = 8;
/// Depths are averaged over this many axial widths.
constexpr double averaged_widths = 6.0;

double square(double value) {
    return value * value;
}

/// The greatest depth of anything that scatters.
double deepest_m(const Truth& truth) {
    double deepest = 0.0;
    for (const TruePoint& point : truth.points) deepest = std::max(deepest, point.position_m.z());
    for (const TrueRegion& region : truth.regions) {
        deepest = std::max(deepest, region.center_m.z() + region.half_size_m.z());
    }
    for (const TrueSheet& sheet : truth.sheets) {
        deepest = std::max(deepest, sheet.center_m.z() + sheet.half_length_m * std::abs(std::sin(sheet.tilt_rad)));
    }
    return deepest;
}

/// rms over pixels of equal depth index, then over a few neighbouring depths; nothing where there are too few.
std::map<std::size_t, double> power_by_depth(const std::vector<RegionPixel>& pixels, std::size_t half_window) {
    std::map<std::size_t, std::pair<double, std::size_t>> sums;
    for (const RegionPixel& pixel : pixels) {
        auto& [power, count] = sums[pixel.depth];
        power += pixel.envelope * pixel.envelope;
        ++count;
    }
    std::map<std::size_t, double> means;
    for (const auto& [depth, own] : sums) {
        double power = 0.0;
        std::size_t count = 0;
        for (std::size_t d = depth > half_window ? depth - half_window : 0; d <= depth + half_window; ++d) {
            const auto found = sums.find(d);
            if (found == sums.end()) continue;
            power += found->second.first;
            count += found->second.second;
        }
        if (count >= min_row_pixels) means[depth] = power / static_cast<double>(count);
    }
    return means;
}

}  // namespace

double noise_gain(const Image& image, double depth_m) {
    const RecordingInfo& info = image.recording;
    const Column middle = column_at(image.grid, 0.5 * static_cast<double>(image.columns - 1));
    const PointView view = view_of(info, image.recipe, middle.origin_m + depth_m * middle.direction);
    const auto events = event_weights(info, image.recipe, view, view.at_depth(depth_m));
    const auto weights = receive_weights(info, image.recipe, view.events.front()->receivers, view.origin_m, depth_m);
    double power = 0.0, times = 0.0;
    for (const double weight : weights) power += square(weight);
    for (const double weight : events) times += square(weight);
    const double gain =
        attenuation_compensation(image.recipe.attenuation_compensation_dB_cm_MHz, info.probe.center_Hz, depth_m);
    return gain * std::sqrt(power * times);
}

Penetration penetration_of(const std::vector<double>& depths_m, const std::vector<double>& speckle,
                           const std::vector<double>& noise) {
    Penetration result;
    result.depths_m = depths_m;
    constexpr double floor_dB = -40.0;
    for (std::size_t n = 0; n < depths_m.size(); ++n) {
        const double excess = square(speckle[n] / noise[n]) - 1.0;
        result.snr_dB.push_back(excess > 0.0 ? std::max(floor_dB, 10.0 * std::log10(excess)) : floor_dB);
    }
    if (depths_m.empty()) return result;
    result.speckle_from_m = depths_m.front();
    result.speckle_to_m = depths_m.back();
    // From the bottom up: a dip farther up does not end penetration.
    std::size_t n = depths_m.size();
    while (n > 0 && result.snr_dB[n - 1] <= 0.0) --n;
    if (n == depths_m.size()) {
        result.reason = "deeper than the speckle: at its end it is still " + plain(std::round(result.snr_dB.back())) +
                        " dB above the noise";
    } else if (n == 0) {
        result.reason = "the speckle is nowhere above the noise";
    } else {
        const double part = result.snr_dB[n - 1] / (result.snr_dB[n - 1] - result.snr_dB[n]);
        result.depth_m = depths_m[n - 1] + part * (depths_m[n] - depths_m[n - 1]);
    }
    return result;
}

std::optional<Penetration> measure_penetration(const Image& image) {
    const RecordingInfo& info = image.recording;
    const TrueRegion* largest = nullptr;
    for (const TrueRegion& region : info.truth.regions) {
        if (region.inclusion) continue;
        if (!largest || region.half_size_m.z() > largest->half_size_m.z()) largest = &region;
    }
    if (!largest || image.columns == 0 || image.depths < 8) return std::nullopt;
    const double below_m = deepest_m(info.truth) + clear_m;
    const auto& depths = depths_of(image.grid);
    const double step = (depths.back() - depths.front()) / static_cast<double>(depths.size() - 1);
    const double cell = axial_theory_m(info.probe, info.medium.sound_speed_m_s, 0.5);
    const std::vector<RegionPixel> noise = pixels_where(image, [&](double, double z) { return z > below_m; });
    const double far_m = (depths.back() - below_m);
    Penetration none;
    if (noise.size() < min_noise_pixels || far_m < 10.0 * cell) {
        none.reason = "no noise to compare with: let the scan's depth_mm end some 10 mm below the deepest scatterers";
        return none;
    }
    double noise_power = 0.0;
    std::map<std::size_t, double> gains;
    const auto gain_at = [&](std::size_t depth) {
        const auto [place, added] = gains.try_emplace(depth, 0.0);
        if (added) place->second = noise_gain(image, depths[depth]);
        return place->second;
    };
    for (const RegionPixel& pixel : noise) noise_power += square(pixel.envelope / gain_at(pixel.depth));
    noise_power /= static_cast<double>(noise.size());
    const std::vector<RegionPixel> speckle = pixels_where(image, [&](double x, double z) {
        if (!inside_outline(*largest, x, z, -1e-3, -1e-3)) return false;
        return std::ranges::none_of(info.truth.regions, [&](const TrueRegion& region) {
            return region.inclusion && inside_outline(region, x, z, 1e-3, 1e-3);
        });
    });
    const auto half_window = static_cast<std::size_t>(std::max(1.0, 0.5 * averaged_widths * cell / step));
    std::vector<double> places, levels, floors;
    for (const auto& [depth, power] : power_by_depth(speckle, half_window)) {
        places.push_back(depths[depth]);
        levels.push_back(std::sqrt(power));
        floors.push_back(std::sqrt(noise_power) * gain_at(depth));
    }
    if (places.empty() || !(noise_power > 0.0)) {
        none.reason =
            places.empty() ? "no speckle inside the image" : "nothing at all below the phantom: no noise was added";
        return none;
    }
    Penetration result = penetration_of(places, levels, floors);
    result.noise_from_m = below_m;
    return result;
}

}  // namespace echoloom
