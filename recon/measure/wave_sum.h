#pragma once
/// Sums of delayed waves at equally spaced frequencies.

#include <complex>
#include <vector>

#include "sim/base/complex_product.h"

namespace echoloom {

using Complex = std::complex<double>;

/// first + n * step, in hertz.
struct Frequencies {
    double first = 0.0;
    double step = 0.0;
    std::size_t count = 1;

    double at(std::size_t n) const { return first + static_cast<double>(n) * step; }
};

/// One complex value per frequency.
using Spectrum = std::vector<Complex>;

/// exp(j 2 pi f time) at the frequencies, one after the other, by one turn from each to the next.
class Rotation {
  public:
    Rotation(const Frequencies& frequencies, double time_s);
    /// The value at the next frequency.
    Complex next() {
        const Complex value = value_;
        value_ = product(value_, turn_);
        return value;
    }

  private:
    Complex value_;
    Complex turn_;
};

/// Adds weight * spectrum * exp(j 2 pi f time).
void add_delayed(Spectrum& sum, const Spectrum& spectrum, const Frequencies& frequencies, double weight, double time_s);

/// Adds a * b.
void add_product(Spectrum& sum, const Spectrum& a, const Spectrum& b);

/// Modulus at a time of the analytic signal whose spectrum is the product of both.
double envelope_at(const Frequencies& frequencies, const Spectrum& spectrum, const Spectrum& sum, double time_s);

}  // namespace echoloom
