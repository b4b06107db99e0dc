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

}  // namespace echoloom
