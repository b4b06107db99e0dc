#include "recon/beamform/taps.h"

#include <cmath>

namespace echoloom {

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

double quadratic_spline(double t) {
    const double away = std::abs(t);
    if (away >= 1.5) {
        return 0.0;
    }
    return away <= 0.5 ? 0.75 - t * t : 0.5 * (1.5 - away) * (1.5 - away);
}

}  // namespace echoloom
