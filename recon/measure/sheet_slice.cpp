#include "recon/measure/sheet_slice.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "recon/measure/grid_place.h"
#include "recon/measure/region_pixels.h"
#include "recon/measure/theory.h"

namespace echoloom {
namespace {

double square(double value) {
    return value * value;
}

/// Depths are taken in steps of this share of the pulse's length.
constexpr double steps_per_pulse = 4.0;

struct Spread {
    double middle, variance;
};

/// Middle and variance of a bell of power by moments under a bell of its own size, found by turns: a Gaussian's are
/// exact, and neither far-off noise nor the accidents of speckle at its top count much.
Spread own_spread(const std::vector<double>& power) {
    const auto top = static_cast<double>(std::ranges::max_element(power) - power.begin());
    Spread spread{top, square(0.15 * static_cast<double>(power.size()))};
    for (int round = 0; round < 100; ++round) {
        double sum = 0.0, first = 0.0, second = 0.0;
        for (std::size_t n = 0; n < power.size(); ++n) {
            const double off = static_cast<double>(n) - spread.middle;
            const double weight = power[n] * std::exp(-0.5 * off * off / spread.variance);
            sum += weight;
            first += weight * off;
            second += weight * off * off;
        }
        if (!(sum > 0.0)) break;
        const double moved = first / sum;
        spread.middle += moved;
        spread.variance = std::max(0.25, 2.0 * (second / sum - moved * moved));
    }
    return spread;
}

}  // namespace

SheetSlice measure_sheet(const Image& image, const TrueSheet& sheet) {
    SheetSlice slice;
    slice.depth_m = sheet.center_m.z() - sheet.center_m.y() * std::tan(sheet.tilt_rad);
    const double slope = std::abs(std::tan(sheet.tilt_rad));
    if (slope < 0.2) {
        slice.reason = "the sheet is too flat: its thickness is the pulse's length";
        return slice;
    }
    const double pulse = axial_rule_m(image.recording.probe, image.recording.medium.sound_speed_m_s, 0.5);
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
    const Spread spread = own_spread(power);
    // Half amplitude of a Gaussian of power: 2 sqrt(2 ln 2) sqrt(2 variance).
    const double length = 4.0 * std::sqrt(std::numbers::ln2 * spread.variance) * step;
    if (length > half_depth) {
        slice.reason = "the sheet is too short to show the whole slice";
        return slice;
    }
    if (length <= pulse) {
        slice.reason = "no thicker than the pulse is long";
        return slice;
    }
    slice.thickness_m = std::sqrt(length * length - pulse * pulse) / slope;
    return slice;
}

}  // namespace echoloom
