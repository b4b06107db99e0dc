#include "recon/measure/speckle.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <unordered_map>

#include "recon/measure/rayleigh.h"

namespace echoloom {
namespace {

/// Two equal rectangular apertures leave 0.3 % of their covariance farther out; noise grows with the reach.
constexpr double reach_cells = 2.0;
constexpr double confidence = 1.96;  // 95 % of a normal distribution

struct MeanAndVariance {
    double mean = 0.0, variance = 0.0;
};

MeanAndVariance moments_of(std::span<const RegionPixel> pixels) {
    double mean = 0.0, square = 0.0, weight = 0.0;
    for (const RegionPixel& pixel : pixels) {
        mean += pixel.area_m2 * pixel.envelope;
        square += pixel.area_m2 * pixel.envelope * pixel.envelope;
        weight += pixel.area_m2;
    }
    mean /= weight;
    return {mean, std::max(0.0, square / weight - mean * mean)};
}

/// Mean step between neighbours that are both among the pixels.
double step_of(std::span<const RegionPixel> pixels, bool lateral) {
    const auto key = [](std::size_t column, std::size_t depth) { return (std::uint64_t{column} << 32) | depth; };
    std::unordered_map<std::uint64_t, const RegionPixel*> at;
    for (const RegionPixel& pixel : pixels) at[key(pixel.column, pixel.depth)] = &pixel;
    double sum = 0.0, count = 0.0;
    for (const RegionPixel& pixel : pixels) {
        const auto next = at.find(lateral ? key(pixel.column + 1, pixel.depth) : key(pixel.column, pixel.depth + 1));
        if (next == at.end()) continue;
        sum += std::hypot(next->second->x_m - pixel.x_m, next->second->z_m - pixel.z_m);
        count += 1.0;
    }
    return count > 0.0 ? sum / count : 0.0;
}

/// Integral of the covariance to either side. The sample's own mean has been subtracted, which lowers every value by
/// one part in the number of cells: this is corrected.
double integral(std::span<const double> covariance, double step_m, double cells) {
    double sum = 0.5;
    for (std::size_t n = 1; n < covariance.size(); ++n) {
        const double restored = covariance[n] * (1.0 - 1.0 / cells) + 1.0 / cells;
        sum += n + 1 == covariance.size() ? 0.5 * restored : restored;
    }
    return 2.0 * step_m * sum;
}

}  // namespace

std::vector<double> autocovariance(std::span<const RegionPixel> pixels, bool lateral, std::size_t shifts) {
    std::vector<double> covariance;
    if (pixels.empty()) return covariance;
    std::size_t first_column = pixels.front().column, last_column = first_column;
    std::size_t first_depth = pixels.front().depth, last_depth = first_depth;
    for (const RegionPixel& pixel : pixels) {
        first_column = std::min(first_column, pixel.column);
        last_column = std::max(last_column, pixel.column);
        first_depth = std::min(first_depth, pixel.depth);
        last_depth = std::max(last_depth, pixel.depth);
    }
    const std::size_t wide = last_column - first_column + 1, tall = last_depth - first_depth + 1;
    const MeanAndVariance all = moments_of(pixels);
    std::vector<double> value(wide * tall, 0.0), weight(wide * tall, 0.0);
    for (const RegionPixel& pixel : pixels) {
        const std::size_t n = (pixel.column - first_column) * tall + pixel.depth - first_depth;
        value[n] = pixel.envelope - all.mean;
        weight[n] = 1.0;
    }
    const std::size_t stride = lateral ? tall : 1;
    for (std::size_t shift = 0; shift < std::min(shifts, lateral ? wide : tall); ++shift) {
        double sum = 0.0, pairs = 0.0;
        const std::size_t columns = lateral ? wide - shift : wide, depths = lateral ? tall : tall - shift;
        for (std::size_t c = 0; c < columns; ++c) {
            for (std::size_t d = 0; d < depths; ++d) {
                const std::size_t n = c * tall + d;
                sum += value[n] * value[n + shift * stride];
                pairs += weight[n] * weight[n + shift * stride];
            }
        }
        if (pairs == 0.0) break;
        covariance.push_back(all.variance > 0.0 ? sum / pairs / all.variance : 0.0);
    }
    return covariance;
}

SpeckleStatistics measure_speckle(std::span<const RegionPixel> pixels, const SpeckleCell& predicted) {
    SpeckleStatistics result;
    const MeanAndVariance all = moments_of(pixels);
    result.snr = all.variance > 0.0 ? all.mean / std::sqrt(all.variance) : 0.0;
    const double area = area_of(pixels);
    const double lateral_step = step_of(pixels, true), axial_step = step_of(pixels, false);
    const auto shifts = [](double reach_m, double step_m) {
        return static_cast<std::size_t>(std::ceil(reach_m / step_m)) + 1;
    };
    const std::vector<double> lateral =
        lateral_step > 0.0 ? autocovariance(pixels, true, shifts(reach_cells * predicted.lateral_m, lateral_step))
                           : std::vector<double>{};
    const std::vector<double> axial =
        axial_step > 0.0 ? autocovariance(pixels, false, shifts(reach_cells * predicted.axial_m, axial_step))
                         : std::vector<double>{};
    const auto far_enough = [](const std::vector<double>& values, double step_m, double cell_m) {
        return values.size() > 2 && static_cast<double>(values.size() - 1) * step_m >= 1.5 * cell_m;
    };
    SpeckleCell cell = predicted;
    // The number of cells corrects the sizes, and the sizes that number: two iterations suffice.
    for (int round = 0; round < 3; ++round) {
        const double cells = std::max(4.0, area / cell.area_m2());
        if (far_enough(lateral, lateral_step, predicted.lateral_m)) {
            result.lateral_m = cell.lateral_m = integral(lateral, lateral_step, cells);
        }
        if (far_enough(axial, axial_step, predicted.axial_m)) {
            result.axial_m = cell.axial_m = integral(axial, axial_step, cells);
        }
        cell.lateral_m = std::max(cell.lateral_m, 0.1 * predicted.lateral_m);
        cell.axial_m = std::max(cell.axial_m, 0.1 * predicted.axial_m);
    }
    result.cells = std::max(1.0, area / cell.area_m2());
    result.lateral_pixels = lateral_step > 0.0 ? cell.lateral_m / lateral_step : 0.0;
    result.axial_pixels = axial_step > 0.0 ? cell.axial_m / axial_step : 0.0;
    const double spread = confidence * result.snr * speckle_snr_spread(result.cells);
    result.snr_low = result.snr - spread;
    result.snr_high = result.snr + spread;
    return result;
}

}  // namespace echoloom
