#include "recon/measure/wave_sum.h"

#include <numbers>

namespace echoloom {

Rotation::Rotation(const Frequencies& frequencies, double time_s)
    : value_(std::polar(1.0, 2.0 * std::numbers::pi * frequencies.first * time_s)),
      turn_(std::polar(1.0, 2.0 * std::numbers::pi * frequencies.step * time_s)) {}

void add_delayed(Spectrum& sum, const Spectrum& spectrum, const Frequencies& frequencies, double weight,
                 double time_s) {
    Rotation rotation(frequencies, time_s);
    for (std::size_t n = 0; n < frequencies.count; ++n) sum[n] += weight * product(spectrum[n], rotation.next());
}

void add_product(Spectrum& sum, const Spectrum& a, const Spectrum& b) {
    for (std::size_t n = 0; n < sum.size(); ++n) sum[n] += product(a[n], b[n]);
}

double envelope_at(const Frequencies& frequencies, const Spectrum& spectrum, const Spectrum& sum, double time_s) {
    Rotation rotation(frequencies, time_s);
    Complex value = 0.0;
    for (std::size_t n = 0; n < frequencies.count; ++n) {
        value += product(product(spectrum[n], sum[n]), rotation.next());
    }
    return std::abs(value);
}

}  // namespace echoloom
