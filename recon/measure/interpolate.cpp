#include "recon/measure/interpolate.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

constexpr int half_length = 8;
constexpr double beta = 8.0;

/// The 2 * half_length weights around a fractional index, and the index of the first of them.
struct Taps {
    std::ptrdiff_t first = 0;
    std::array<double, 2 * half_length> weight{};
};

Taps taps_at(double index) {
    Taps taps;
    const double base = std::floor(index);
    const double fraction = index - base;
    taps.first = static_cast<std::ptrdiff_t>(base) - half_length + 1;
    double sum = 0.0;
    for (int n = 0; n < 2 * half_length; ++n) {
        const double distance = fraction + half_length - 1 - n;
        const double x = distance / half_length;
        const double window = std::exp(beta * (std::sqrt(std::max(0.0, 1.0 - x * x)) - 1.0));
        const double angle = std::numbers::pi * distance;
        taps.weight[static_cast<std::size_t>(n)] = window * (std::abs(angle) < 1e-9 ? 1.0 : std::sin(angle) / angle);
        sum += taps.weight[static_cast<std::size_t>(n)];
    }
    for (double& weight : taps.weight) weight /= sum;
    return taps;
}

/// Index into `count` samples continued as their mirror image about each end sample.
std::size_t mirrored(std::ptrdiff_t index, std::size_t count) {
    if (count == 1) return 0;
    const auto period = 2 * (static_cast<std::ptrdiff_t>(count) - 1);
    std::ptrdiff_t wrapped = index % period;
    if (wrapped < 0) wrapped += period;
    return static_cast<std::size_t>(std::min(wrapped, period - wrapped));
}

}  // namespace

double interpolate(std::span<const double> samples, double index) {
    const Taps taps = taps_at(index);
    double sum = 0.0;
    for (std::size_t n = 0; n < taps.weight.size(); ++n) {
        sum += taps.weight[n] * samples[mirrored(taps.first + static_cast<std::ptrdiff_t>(n), samples.size())];
    }
    return sum;
}

double interpolate(const SampleView& field, double column, double depth) {
    const Taps columns = taps_at(column);
    const Taps depths = taps_at(depth);
    double sum = 0.0;
    for (std::size_t m = 0; m < columns.weight.size(); ++m) {
        const std::size_t c = mirrored(columns.first + static_cast<std::ptrdiff_t>(m), field.columns);
        double line = 0.0;
        for (std::size_t n = 0; n < depths.weight.size(); ++n) {
            line +=
                depths.weight[n] * field.at(c, mirrored(depths.first + static_cast<std::ptrdiff_t>(n), field.depths));
        }
        sum += columns.weight[m] * line;
    }
    return sum;
}

FieldPeak refine_peak(const SampleView& field, std::size_t column, std::size_t depth) {
    const auto column0 = static_cast<double>(column);
    const auto depth0 = static_cast<double>(depth);
    FieldPeak peak{column0, depth0, interpolate(field, column0, depth0)};
    for (double step = 0.5; step > 0.5e-4;) {
        FieldPeak best = peak;
        for (int i = -1; i <= 1; ++i) {
            for (int j = -1; j <= 1; ++j) {
                const double c = peak.column + i * step;
                const double d = peak.depth + j * step;
                if ((i == 0 && j == 0) || std::abs(c - column0) > 1.0 || std::abs(d - depth0) > 1.0) continue;
                const double value = interpolate(field, c, d);
                if (value > best.value) best = {c, d, value};
            }
        }
        if (best.value > peak.value) {
            peak = best;
        } else {
            step /= 2.0;
        }
    }
    return peak;
}

}  // namespace echoloom
