#include "recon/measure/sheet_slice.h"

#include <algorithm>
#include <cmath>

#include "recon/measure/grid_place.h"
#include "recon/measure/profile.h"
#include "recon/measure/region_pixels.h"
#include "recon/measure/theory.h"

namespace echoloom {
namespace {

/// The band around the sheet's depth ends short of its edges, and of steps much finer than the pulse nothing is lost.
constexpr double steps_per_pulse = 2.0;

/// Mean power over a few lines scatters; a running mean over so many pulse lengths steadies it.
std::vector<double> smoothed(const std::vector<double>& values, int half) {
    std::vector<double> smooth(values.size());
    for (std::size_t n = 0; n < values.size(); ++n) {
        const auto from = n > static_cast<std::size_t>(half) ? n - static_cast<std::size_t>(half) : 0;
        const auto to = std::min(values.size() - 1, n + static_cast<std::size_t>(half));
        for (std::size_t m = from; m <= to; ++m) smooth[n] += values[m] / static_cast<double>(to - from + 1);
    }
    return smooth;
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
    Profile profile;
    for (std::size_t n = 0; n < bins; ++n) {
        if (count[n] == 0.0) continue;
        power[n] /= count[n];
    }
    const std::vector<double> steady = smoothed(power, 1);
    for (std::size_t n = 0; n < bins; ++n) {
        profile.position_m.push_back((static_cast<double>(n) + 0.5) * step);
        profile.amplitude.push_back(std::sqrt(std::max(0.0, steady[n])));
    }
    if (pixels.size() < 100 || bins < 8) {
        slice.reason = "outside the image, or too little of the sheet inside it";
        return slice;
    }
    const auto peak = std::max_element(profile.amplitude.begin(), profile.amplitude.end()) - profile.amplitude.begin();
    const LevelWidth width = width_at_level(profile, static_cast<double>(peak), 0.5);
    if (!width.width_m) {
        slice.reason = width.reason;
        return slice;
    }
    // The running mean over three steps widens by the square of its own spread; so does the pulse.
    const double blur = std::hypot(pulse, 2.3548 * step * std::sqrt(8.0 / 12.0));
    const double thick = *width.width_m * *width.width_m - blur * blur;
    if (thick <= 0.0) {
        slice.reason = "no thicker than the pulse is long";
        return slice;
    }
    slice.thickness_m = std::sqrt(thick) / slope;
    return slice;
}

}  // namespace echoloom
