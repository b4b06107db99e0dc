#include "recon/beamform/taps.h"

#include <array>

namespace echoloom {
namespace {

std::array<double, 4> linear_taps(double f) {
    return {0.0, 1.0 - f, f, 0.0};
}

/// Lagrange's polynomial through four neighbours.
std::array<double, 4> cubic_taps(double f) {
    return {-f * (f - 1.0) * (f - 2.0) / 6.0, (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0, -(f + 1.0) * f * (f - 2.0) / 2.0,
            (f + 1.0) * f * (f - 1.0) / 6.0};
}

}  // namespace

TapTable::TapTable(Interpolation interpolation, int repeat) : row_length_(4 * static_cast<std::size_t>(repeat)) {
    weights_.reserve(phases * row_length_);
    for (int phase = 0; phase < phases; ++phase) {
        const double fraction = static_cast<double>(phase) / phases;
        const auto taps = interpolation == Interpolation::linear ? linear_taps(fraction) : cubic_taps(fraction);
        for (const double tap : taps) {
            weights_.insert(weights_.end(), static_cast<std::size_t>(repeat), static_cast<float>(tap));
        }
    }
}

std::array<double, 4> plain_taps(Interpolation interpolation, double fraction) {
    if (interpolation == Interpolation::linear) {
        return {0.0, 1.0 - fraction, fraction, 0.0};
    }
    std::array<double, 4> taps{};
    for (int j = 0; j < 4; ++j) {
        double tap = 1.0;
        for (int m = 0; m < 4; ++m) {
            tap *= m == j ? 1.0 : (fraction + 1.0 - m) / (j - m);
        }
        taps[static_cast<std::size_t>(j)] = tap;
    }
    return taps;
}

}  // namespace echoloom
