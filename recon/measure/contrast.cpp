#include "recon/measure/contrast.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

/// Tiles of the chessboard are so many cells wide: large against a cell, so that few cells lie in two tiles.
constexpr double tile_cells = 3.0;

struct Moments {
    double mean = 0.0, variance = 0.0, power = 0.0;
};

Moments moments_of(std::span<const RegionPixel> pixels) {
    Moments moments;
    double weight = 0.0;
    for (const RegionPixel& pixel : pixels) {
        moments.mean += pixel.area_m2 * pixel.envelope;
        moments.power += pixel.area_m2 * pixel.envelope * pixel.envelope;
        weight += pixel.area_m2;
    }
    moments.mean /= weight;
    moments.power /= weight;
    moments.variance = std::max(0.0, moments.power - moments.mean * moments.mean);
    return moments;
}

std::vector<LabelledValue> labelled(std::span<const RegionPixel> pixels, const SpeckleCell& cell) {
    std::vector<LabelledValue> values;
    values.reserve(pixels.size());
    for (const RegionPixel& pixel : pixels) {
        const auto column = static_cast<long>(std::floor(pixel.x_m / (tile_cells * cell.across_m)));
        const auto row = static_cast<long>(std::floor(pixel.z_m / (tile_cells * cell.along_m)));
        values.push_back({pixel.envelope, static_cast<int>(std::abs(column + row) % 2)});
    }
    return values;
}

}  // namespace

double cross_validated_gcnr(std::span<const LabelledValue> inside, std::span<const LabelledValue> outside,
                            double cells) {
    std::vector<double> pooled;
    for (const auto& [value, half] : inside) pooled.push_back(value);
    for (const auto& [value, half] : outside) pooled.push_back(value);
    std::sort(pooled.begin(), pooled.end());
    const auto bins = static_cast<std::size_t>(std::clamp(2.0 * std::cbrt(cells), 4.0, 64.0));
    std::vector<double> edges;
    // Equal shares of each class's own range of ranks: thresholds lie where there is something to tell apart.
    for (std::size_t n = 1; n < bins; ++n) edges.push_back(pooled[n * pooled.size() / bins]);
    using Counts = std::array<std::vector<double>, 2>;  // [half][bin]
    const auto count = [&](std::span<const LabelledValue> values) {
        Counts counts{std::vector<double>(bins, 0.0), std::vector<double>(bins, 0.0)};
        std::array<double, 2> sums{};
        for (const auto& [value, half] : values) {
            const auto bin =
                static_cast<std::size_t>(std::upper_bound(edges.begin(), edges.end(), value) - edges.begin());
            counts[static_cast<std::size_t>(half)][bin] += 1.0;
            sums[static_cast<std::size_t>(half)] += 1.0;
        }
        for (std::size_t half = 0; half < 2; ++half) {
            for (double& share : counts[half]) share /= std::max(1.0, sums[half]);
        }
        return counts;
    };
    const Counts in = count(inside), out = count(outside);
    double sum = 0.0;
    for (std::size_t judged = 0; judged < 2; ++judged) {
        const std::size_t taught = 1 - judged;
        for (std::size_t bin = 0; bin < bins; ++bin) {
            const double difference = in[judged][bin] - out[judged][bin];
            if (in[taught][bin] > out[taught][bin]) sum += difference;
        }
    }
    // The bins said to be outside hold the same difference with the other sign, as each class sums to one.
    return std::clamp(0.5 * sum, 0.0, 1.0);
}

RegionContrast compare_regions(std::span<const RegionPixel> inside, std::span<const RegionPixel> outside,
                               const SpeckleCell& cell) {
    RegionContrast result;
    const Moments in = moments_of(inside), out = moments_of(outside);
    result.cells_inside = std::max(1.0, area_of(inside) / cell.area_m2());
    result.cells_outside = std::max(1.0, area_of(outside) / cell.area_m2());
    result.contrast_dB = 10.0 * std::log10(std::max(in.power, 1e-300) / std::max(out.power, 1e-300));
    // The power of speckle has a standard deviation as large as its mean.
    const double unsure = std::sqrt(1.0 / result.cells_inside + 1.0 / result.cells_outside);
    result.contrast_spread_dB = 10.0 / std::numbers::ln10 * unsure;
    const double both = std::sqrt(in.variance + out.variance);
    result.cnr = both > 0.0 ? std::abs(in.mean - out.mean) / both : 0.0;
    result.cnr_spread =
        both > 0.0 ? std::sqrt(in.variance / result.cells_inside + out.variance / result.cells_outside) / both : 0.0;
    const auto within = labelled(inside, cell), around = labelled(outside, cell);
    result.gcnr = cross_validated_gcnr(within, around, std::min(result.cells_inside, result.cells_outside));
    const double right = 0.5 * (1.0 + result.gcnr);
    result.gcnr_spread = std::sqrt(right * (1.0 - right)) * unsure;
    return result;
}

}  // namespace echoloom
