#include "recon/measure/contrast.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

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
        const auto column = static_cast<long>(std::floor(pixel.x_m / (tile_cells * cell.lateral_m)));
        const auto row = static_cast<long>(std::floor(pixel.z_m / (tile_cells * cell.axial_m)));
        values.push_back({pixel.envelope, static_cast<int>(std::abs(column + row) % 2)});
    }
    return values;
}

/// Of one half, rising.
std::vector<double> values_of(std::span<const LabelledValue> values, int half) {
    std::vector<double> own;
    for (const auto& [value, its] : values) {
        if (its == half) own.push_back(value);
    }
    std::sort(own.begin(), own.end());
    return own;
}

/// The value that best separates two classes (rising): what lies below it belongs to one.
std::optional<double> best_threshold(const std::vector<double>& inside, const std::vector<double>& outside) {
    if (inside.empty() || outside.empty()) return std::nullopt;
    std::optional<double> best;
    double max_difference = 0.0;
    std::size_t in = 0, out = 0;
    while (in < inside.size() || out < outside.size()) {
        const bool from_inside = out == outside.size() || (in < inside.size() && inside[in] < outside[out]);
        const double value = from_inside ? inside[in] : outside[out];
        const double difference = std::abs(static_cast<double>(in) / static_cast<double>(inside.size()) -
                                           static_cast<double>(out) / static_cast<double>(outside.size()));
        if (difference > max_difference) {
            max_difference = difference;
            best = value;
        }
        while (in < inside.size() && inside[in] == value) ++in;
        while (out < outside.size() && outside[out] == value) ++out;
    }
    return best;
}

}  // namespace

double cross_validated_gcnr(std::span<const LabelledValue> inside, std::span<const LabelledValue> outside,
                            double cells) {
    std::vector<double> pooled;
    for (const auto& [value, half] : inside) pooled.push_back(value);
    for (const auto& [value, half] : outside) pooled.push_back(value);
    std::sort(pooled.begin(), pooled.end());
    const auto bins = static_cast<std::size_t>(std::clamp(2.0 * std::cbrt(cells), 4.0, 64.0));
    std::vector<double> equal_shares;
    for (std::size_t n = 1; n < bins; ++n) equal_shares.push_back(pooled[n * pooled.size() / bins]);
    double sum = 0.0;
    for (int judged = 0; judged < 2; ++judged) {
        const int training = 1 - judged;
        std::vector<double> edges = equal_shares;
        const auto threshold = best_threshold(values_of(inside, training), values_of(outside, training));
        if (threshold) edges.insert(std::upper_bound(edges.begin(), edges.end(), *threshold), *threshold);
        const auto shares = [&](std::span<const LabelledValue> values, int half) {
            std::vector<double> share(edges.size() + 1, 0.0);
            double count = 0.0;
            for (const auto& [value, own] : values) {
                if (own != half) continue;
                share[static_cast<std::size_t>(std::upper_bound(edges.begin(), edges.end(), value) - edges.begin())] +=
                    1.0;
                count += 1.0;
            }
            for (double& part : share) part /= std::max(1.0, count);
            return share;
        };
        const std::vector<double> in = shares(inside, judged), out = shares(outside, judged);
        const std::vector<double> in_training = shares(inside, training), out_training = shares(outside, training);
        for (std::size_t bin = 0; bin < in.size(); ++bin) {
            if (in_training[bin] > out_training[bin]) sum += in[bin] - out[bin];
        }
    }
    // The bins assigned to the outside hold the same difference with the other sign, as each class sums to one.
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
    const double relative_spread = std::sqrt(1.0 / result.cells_inside + 1.0 / result.cells_outside);
    result.contrast_spread_dB = 10.0 / std::numbers::ln10 * relative_spread;
    const double both = std::sqrt(in.variance + out.variance);
    result.cnr = both > 0.0 ? std::abs(in.mean - out.mean) / both : 0.0;
    result.cnr_spread =
        both > 0.0 ? std::sqrt(in.variance / result.cells_inside + out.variance / result.cells_outside) / both : 0.0;
    const auto within = labelled(inside, cell), around = labelled(outside, cell);
    result.gcnr = cross_validated_gcnr(within, around, std::min(result.cells_inside, result.cells_outside));
    // One right and one wrong decision are added: with few cells, no error observed does not mean no error.
    const double judged = 1.0 / (relative_spread * relative_spread);
    const double right = (0.5 * (1.0 + result.gcnr) * judged + 1.0) / (judged + 2.0);
    result.gcnr_spread = std::sqrt(right * (1.0 - right)) * relative_spread;
    return result;
}

}  // namespace echoloom
