#include "recon/measure/rayleigh.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

/// Smaller power over larger, 0 for a contrast without bound.
double power_ratio(double contrast_dB) {
    return std::pow(10.0, -0.1 * std::abs(contrast_dB));
}

}  // namespace

double rayleigh_snr() {
    return std::sqrt(std::numbers::pi / (4.0 - std::numbers::pi));
}

double speckle_snr_spread(double cells) {
    constexpr double factor = 0.48;
    return factor / std::sqrt(cells);
}

double rayleigh_cnr(double contrast_dB) {
    const double ratio = power_ratio(contrast_dB);
    return rayleigh_snr() * (1.0 - std::sqrt(ratio)) / std::sqrt(1.0 + ratio);
}

double rayleigh_gcnr(double contrast_dB) {
    const double ratio = power_ratio(contrast_dB);
    if (ratio <= 0.0) return 1.0;
    if (ratio >= 1.0) return 0.0;
    return (1.0 - ratio) * std::pow(ratio, ratio / (1.0 - ratio));
}

double envelope_covariance(double rho_squared) {
    const double x = std::clamp(rho_squared, 0.0, 1.0);
    // The series of 2F1(-1/2, -1/2; 1; x): each term the one before times ((n - 1/2) / (n + 1))^2 x. At x = 1 its tail
    // falls as 1 / n^3.
    double term = 1.0, sum = 0.0;
    for (int n = 0; n < 400; ++n) {
        const double factor = (n - 0.5) / (n + 1.0);
        term *= factor * factor * x;
        sum += term;
        if (term < 1e-12) break;
    }
    return sum / (4.0 / std::numbers::pi - 1.0);
}

}  // namespace echoloom
