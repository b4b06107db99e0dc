#pragma once
/// Images of synthetic speckle: Rayleigh envelopes of known speckle size.

#include <cmath>
#include <functional>
#include <vector>

#include "sim/base/random.h"
#include "tests/measure/synthetic.h"

namespace echoloom::synthetic {

/// Standard deviations of the Gaussian point response behind the speckle, in pixels.
struct ResponsePixels {
    double lateral = 2.0, axial = 2.0;
};

/// The field of a Gaussian response exp(-x^2 / (2 s^2)) is correlated as exp(-x^2 / (4 s^2)); the integral of the
/// envelope's covariance, of |rho|^2 = exp(-x^2 / (2 s^2)), is 2.4301 s (R. F. Wagner et al., IEEE Trans. Sonics
/// Ultrason. SU-30(3), 156-163, 1983, from memory; recomputed by tests/published/recompute_speckle.py).
inline double speckle_size(double response_sd) {
    return 2.4301 * response_sd;
}

/// Complex white noise smoothed by that response, of unit mean power, times a brightness (power) at each place.
inline Image speckle_image(std::size_t columns, std::size_t depths, double step_m, const ResponsePixels& response,
                           std::uint64_t seed, const std::function<double(double x, double z)>& power) {
    const CounterRandom random(seed, 1);
    const auto kernel = [](double sd) {
        std::vector<double> taps;
        const int half = static_cast<int>(std::ceil(5.0 * sd));
        double energy = 0.0;
        for (int n = -half; n <= half; ++n) {
            taps.push_back(std::exp(-0.5 * n * n / (sd * sd)));
            energy += taps.back() * taps.back();
        }
        for (double& tap : taps) tap /= std::sqrt(energy);
        return taps;
    };
    const std::vector<double> lateral = kernel(response.lateral), axial = kernel(response.axial);
    const std::size_t wide = columns + lateral.size(), tall = depths + axial.size();
    std::vector<double> sum(columns * depths, 0.0);
    for (std::uint64_t part = 0; part < 2; ++part) {
        std::vector<double> noise(wide * tall), smooth(wide * depths, 0.0);
        for (std::size_t n = 0; n < noise.size(); ++n) noise[n] = random.normal(2 * n + part) / std::sqrt(2.0);
        for (std::size_t c = 0; c < wide; ++c) {
            for (std::size_t d = 0; d < depths; ++d) {
                for (std::size_t k = 0; k < axial.size(); ++k) {
                    smooth[c * depths + d] += axial[k] * noise[c * tall + d + k];
                }
            }
        }
        for (std::size_t c = 0; c < columns; ++c) {
            for (std::size_t d = 0; d < depths; ++d) {
                double value = 0.0;
                for (std::size_t k = 0; k < lateral.size(); ++k) value += lateral[k] * smooth[(c + k) * depths + d];
                sum[c * depths + d] += value * value;
            }
        }
    }
    std::size_t n = 0;
    return cartesian_image(step_m, columns, step_m, 10e-3, depths,
                           [&](double x, double z) { return std::sqrt(sum[n++] * power(x, z)); });
}

}  // namespace echoloom::synthetic
