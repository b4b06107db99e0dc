#include "recon/beamform/taps.h"

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

}  // namespace echoloom
