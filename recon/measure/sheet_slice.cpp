#include "recon/measure/sheet_slice.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "recon/measure/grid_place.h"
#include "recon/measure/region_pixels.h"
#include "recon/measure/speckle_size.h"
#include "recon/measure/theory.h"

namespace echoloom {
namespace {

double square(double value) {
    return value * value;
}

/// Depths are taken in steps of this share of the pulse's length.
constexpr double steps_per_pulse = 4.0;

/// The echo counts down to this share of the peak's power; below lie noise and side lobes.
constexpr double counted = 0.05;

std::vector<double> running_mean(const std::vector<double>& values, std::size_t half) {
    std::vector<double> means(values.size(), 0.0);
    for (std::size_t n = 0; n < values.size(); ++n) {
        const std::size_t from = n > half ? n - half : 0, to = std::min(values.size() - 1, n + half);
        for (std::size_t m = from; m <= to; ++m) means[n] += values[m] / static_cast<double>(to - from + 1);
    }
    return means;
}

/// Variance of a Gaussian of which `left` is left when it is cut off where its running mean, wider than it by a
/// variance of `blur`, falls to `counted`.
double whole_variance(double left, double blur) {
    double variance = left;
    for (int round = 0; round < 30; ++round) {
        const double cut = std::sqrt(-2.0 * std::log(counted) * (1.0 + blur / variance));
        const double density = std::exp(-0.5 * cut * cut) / std::sqrt(2.0 * std::numbers::pi);
        variance = left / (1.0 - 2.0 * cut * density / std::erf(cut / std::numbers::sqrt2));
    }
    return variance;
}

/// Variance, in steps, of a bell-shaped power around its maximum; nothing where it does not fall off on both sides.
std::optional<double> spread_of(const std::vector<double>& power) {
    const auto half = static_cast<std::size_t>(steps_per_pulse);
    const std::vector<double> steady = running_mean(power, half);
    const auto top = static_cast<std::size_t>(std::ranges::max_element(steady) - steady.begin());
    std::size_t first = top, last = top;
    while (first > 0 && steady[first - 1] > counted * steady[top]) --first;
    while (last + 1 < steady.size() && steady[last + 1] > counted * steady[top]) ++last;
    if (first == 0 || last + 1 == steady.size()) return std::nullopt;
    double sum = 0.0, mean = 0.0, squares = 0.0;
    for (std::size_t n = first; n <= last; ++n) {
        sum += power[n];
        mean += power[n] * static_cast<double>(n);
        squares += power[n] * square(static_cast<double>(n));
    }
    mean /= sum;
    const double width = 2.0 * static_cast<double>(half) + 1.0;
    return whole_variance(squares / sum - mean * mean, (width * width - 1.0) / 12.0);
}

}  // namespace

SheetSlice measure_sheet(const Image& image, const TrueSheet& sheet) {
    SheetSlice slice;
    slice.depth_m = sheet.center_m.z() - sheet.center_m.y() * std::tan(sheet.tilt_rad);
    const double slope = std::abs(std::tan(sheet.tilt_rad));
    if (slope < 0.2) {
        slice.reason = "the sheet is too flat: its image is as thick as the pulse is long";
        return slice;
    }
    const double pulse = axial_theory_m(image.recording.probe, image.recording.medium.sound_speed_m_s, 0.5);
    const double half_depth = sheet.half_length_m * std::abs(std::sin(sheet.tilt_rad));
    const std::vector<RegionPixel> pixels = pixels_where(image, [&](double x, double z) {
        return std::abs(x - sheet.center_m.x()) < 0.9 * sheet.half_width_m &&
               std::abs(z - sheet.center_m.z()) < half_depth;
    });
    const double step = pulse / steps_per_pulse;
    const auto bins = static_cast<std::size_t>(2.0 * half_depth / step);
    std::vector<double> power(bins, 0.0), count(bins, 0.0);
    for (const RegionPixel& pixel : pixels) {
        const auto bin = static_cast<std::size_t>((pixel.z_m - sheet.center_m.z() + half_depth) / step);
        if (bin >= bins) continue;
        power[bin] += pixel.envelope * pixel.envelope;
        count[bin] += 1.0;
    }
    if (pixels.size() < 100 || bins < 8) {
        slice.reason = "outside the image, or too little of the sheet inside it";
        return slice;
    }
    for (std::size_t n = 0; n < bins; ++n) power[n] /= std::max(1.0, count[n]);
    const auto variance = spread_of(power);
    if (!variance) {
        slice.reason = "the sheet is too short to show the whole slice";
        return slice;
    }
    // Half amplitude of a Gaussian of power: 2 sqrt(2 ln 2) sqrt(2 variance).
    const double length = 4.0 * std::sqrt(std::numbers::ln2 * *variance) * step;
    if (length <= pulse) {
        slice.reason = "not thicker than the pulse is long";
        return slice;
    }
    slice.thickness_m = std::sqrt(length * length - pulse * pulse) / slope;
    const auto speckle_size =
        predict_speckle_size(image.recording, image.recipe, Vec3(sheet.center_m.x(), 0.0, slice.depth_m));
    const auto [leftmost, rightmost] = std::ranges::minmax_element(pixels, {}, &RegionPixel::x_m);
    if (speckle_size) {
        const double cells = std::max(1.0, (rightmost->x_m - leftmost->x_m) / speckle_size->lateral_m) *
                             std::max(1.0, length / speckle_size->axial_m);
        // Monte Carlo, slices 1.5 to 8 pulses long: 0.43 to 0.57 over the root of the cells.
        slice.spread_m = 0.55 * *slice.thickness_m / std::sqrt(cells);
    }
    return slice;
}

}  // namespace echoloom
