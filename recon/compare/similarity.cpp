#include "recon/compare/similarity.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace echoloom {

namespace {

constexpr int reach = 5;
constexpr double window_sd = 1.5;
constexpr double mean_constant = 0.01 * 0.01;      // (K1 L)^2 with L = 1
constexpr double variance_constant = 0.03 * 0.03;  // (K2 L)^2

std::array<double, 2 * reach + 1> gaussian_window() {
    std::array<double, 2 * reach + 1> weights{};
    double sum = 0.0;
    for (int n = -reach; n <= reach; ++n) {
        sum += weights[static_cast<std::size_t>(n + reach)] = std::exp(-0.5 * n * n / (window_sd * window_sd));
    }
    for (double& weight : weights) {
        weight /= sum;
    }
    return weights;
}

/// The edge sample counts twice where it is mirrored: d c b a | a b c d.
std::size_t mirrored(std::ptrdiff_t index, std::size_t count) {
    const auto size = static_cast<std::ptrdiff_t>(count);
    while (index < 0 || index >= size) {
        index = index < 0 ? -index - 1 : 2 * size - index - 1;
    }
    return static_cast<std::size_t>(index);
}

using Field = std::vector<double>;

Field smoothed(const Field& field, std::size_t columns, std::size_t depths) {
    static const auto weights = gaussian_window();
    Field once(field.size()), twice(field.size());
    for (std::size_t c = 0; c < columns; ++c) {
        for (std::size_t d = 0; d < depths; ++d) {
            for (int n = -reach; n <= reach; ++n) {
                once[c * depths + d] += weights[static_cast<std::size_t>(n + reach)] *
                                        field[c * depths + mirrored(static_cast<std::ptrdiff_t>(d) + n, depths)];
            }
        }
    }
    for (std::size_t c = 0; c < columns; ++c) {
        for (int n = -reach; n <= reach; ++n) {
            const std::size_t from = mirrored(static_cast<std::ptrdiff_t>(c) + n, columns) * depths;
            for (std::size_t d = 0; d < depths; ++d) {
                twice[c * depths + d] += weights[static_cast<std::size_t>(n + reach)] * once[from + d];
            }
        }
    }
    return twice;
}

Field greys(std::span<const float> envelope, const GreyScale& scale, double reference) {
    Field field;
    field.reserve(envelope.size());
    for (const float value : envelope) {
        const double level_dB = value > 0.0F && reference > 0.0 ? 20.0 * std::log10(value / reference) : -1e9;
        field.push_back(std::clamp((level_dB - scale.black_dB()) / scale.range_dB, 0.0, 1.0));
    }
    return field;
}

Field product(const Field& a, const Field& b) {
    Field result(a.size());
    std::ranges::transform(a, b, result.begin(), std::multiplies<>());
    return result;
}

}  // namespace

double structural_similarity(std::span<const float> before, std::span<const float> after, std::size_t columns,
                             std::size_t depths, const GreyScale& scale, double reference) {
    const Field a = greys(before, scale, reference);
    const Field b = greys(after, scale, reference);
    const Field mean_a = smoothed(a, columns, depths);
    const Field mean_b = smoothed(b, columns, depths);
    const Field square_a = smoothed(product(a, a), columns, depths);
    const Field square_b = smoothed(product(b, b), columns, depths);
    const Field mixed = smoothed(product(a, b), columns, depths);
    double sum = 0.0;
    for (std::size_t n = 0; n < a.size(); ++n) {
        const double means = mean_a[n] * mean_b[n];
        const double squares = mean_a[n] * mean_a[n] + mean_b[n] * mean_b[n];
        const double variances = square_a[n] + square_b[n] - squares;
        const double covariance = mixed[n] - means;
        sum += (2.0 * means + mean_constant) * (2.0 * covariance + variance_constant) /
               ((squares + mean_constant) * (variances + variance_constant));
    }
    return a.empty() ? 1.0 : sum / static_cast<double>(a.size());
}

}  // namespace echoloom
