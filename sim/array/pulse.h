#pragma once
/// The two-way electro-mechanical response E(f) of transmit and receive together.

#include <complex>
#include <variant>
#include <vector>

namespace echoloom {

/// Zero-phase Gaussian: the echo envelope peaks at 1 at time zero; the amplitude spectrum falls to one half at
/// center +- bandwidth/2. In the time domain e(t) = exp(-t^2 / (2 sigma_t^2)) cos(2 pi center t),
/// sigma_t = 1 / (2 pi sigma_f), sigma_f = bandwidth * center / (2 sqrt(2 ln 2)).
struct GaussianPulse {
    double center_Hz = 0.0;
    double bandwidth_fraction = 0.0;  ///< two-way, between half-amplitude points, as a fraction of center_Hz
};

/// A measured two-way impulse response; sample 0 lies at `start_s`.
struct SampledPulse {
    double sampling_rate_Hz = 0.0;
    double start_s = 0.0;
    std::vector<double> samples;
};

using Pulse = std::variant<GaussianPulse, SampledPulse>;

/// Fourier transform integral of e(t) exp(-j 2 pi f t) dt, in seconds, exact for the Gaussian (both its lobes) and a
/// sum for samples.
std::complex<double> pulse_spectrum(const Pulse& pulse, double frequency_Hz);

/// Highest frequency with |E| at or above `level` times its peak.
double pulse_highest_frequency(const Pulse& pulse, double level);

/// Time from time zero after which the pulse stays under `level` times its peak.
double pulse_tail_s(const Pulse& pulse, double level);

}  // namespace echoloom
