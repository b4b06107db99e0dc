#include "sim/array/pulse.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace echoloom {

namespace {

using std::numbers::ln2;
using std::numbers::pi;

double spectral_sigma_Hz(const GaussianPulse& pulse) {
    return pulse.bandwidth_fraction * pulse.center_Hz / (2.0 * std::sqrt(2.0 * ln2));
}

std::complex<double> spectrum(const GaussianPulse& pulse, double frequency_Hz) {
    const double sigma_f = spectral_sigma_Hz(pulse);
    const double sigma_t = 1.0 / (2.0 * pi * sigma_f);
    const auto lobe = [&](double offset_Hz) { return std::exp(-0.5 * (offset_Hz / sigma_f) * (offset_Hz / sigma_f)); };
    return 0.5 * sigma_t * std::sqrt(2.0 * pi) *
           (lobe(frequency_Hz - pulse.center_Hz) + lobe(frequency_Hz + pulse.center_Hz));
}

std::complex<double> spectrum(const SampledPulse& pulse, double frequency_Hz) {
    if (std::abs(frequency_Hz) > 0.5 * pulse.sampling_rate_Hz) {
        return 0.0;  // what lies above is an image of what lies below
    }
    std::complex<double> sum = 0.0;
    for (std::size_t n = 0; n < pulse.samples.size(); ++n) {
        const double time_s = pulse.start_s + static_cast<double>(n) / pulse.sampling_rate_Hz;
        sum += std::polar(1.0, -2.0 * pi * frequency_Hz * time_s) * pulse.samples[n];
    }
    return sum / pulse.sampling_rate_Hz;
}

double highest_frequency(const GaussianPulse& pulse, double level) {
    // The lobe at negative frequencies adds under exp(-16 ln2 / bandwidth^2) of the other one here: left out.
    return pulse.center_Hz + spectral_sigma_Hz(pulse) * std::sqrt(-2.0 * std::log(level));
}

double highest_frequency(const SampledPulse& pulse, double level) {
    // A spectrum of n samples is fully described by 2 n points around the circle; then halve into the last interval.
    const std::size_t points = pulse.samples.size();
    const double step_Hz = 0.5 * pulse.sampling_rate_Hz / static_cast<double>(points);
    std::vector<double> magnitude(points + 1);
    for (std::size_t k = 0; k <= points; ++k) {
        magnitude[k] = std::abs(spectrum(pulse, static_cast<double>(k) * step_Hz));
    }
    const double threshold = level * *std::ranges::max_element(magnitude);
    std::size_t last = points;
    while (last > 0 && magnitude[last] < threshold) {
        --last;
    }
    if (last == points) {
        return 0.5 * pulse.sampling_rate_Hz;
    }
    double above = static_cast<double>(last) * step_Hz;
    double below = above + step_Hz;
    for (int i = 0; i < 40; ++i) {
        const double middle = 0.5 * (above + below);
        (std::abs(spectrum(pulse, middle)) >= threshold ? above : below) = middle;
    }
    return above;
}

double tail(const GaussianPulse& pulse, double level) {
    return std::sqrt(-2.0 * std::log(level)) / (2.0 * pi * spectral_sigma_Hz(pulse));
}

double tail(const SampledPulse& pulse, double level) {
    const auto size = [](double a, double b) { return std::abs(a) < std::abs(b); };
    const double threshold = level * std::abs(*std::ranges::max_element(pulse.samples, size));
    std::size_t last = pulse.samples.size();
    while (last > 1 && std::abs(pulse.samples[last - 1]) < threshold) {
        --last;
    }
    return std::max(0.0, pulse.start_s + static_cast<double>(last) / pulse.sampling_rate_Hz);
}

}  // namespace

std::complex<double> pulse_spectrum(const Pulse& pulse, double frequency_Hz) {
    return std::visit([&](const auto& kind) { return spectrum(kind, frequency_Hz); }, pulse);
}

double pulse_highest_frequency(const Pulse& pulse, double level) {
    return std::visit([&](const auto& kind) { return highest_frequency(kind, level); }, pulse);
}

double pulse_tail_s(const Pulse& pulse, double level) {
    return std::visit([&](const auto& kind) { return tail(kind, level); }, pulse);
}

}  // namespace echoloom
