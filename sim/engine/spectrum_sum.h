#pragma once
/// sum += a b for complex spectra with real and imaginary parts apart.

#include <cstddef>

namespace echoloom {

struct SpectrumView {
    const float* real;
    const float* imaginary;
};

/// Over `count` bins; `count` need not be a whole number of vectors.
void add_product(const SpectrumView& a, const SpectrumView& b, std::size_t count, float* real, float* imaginary);

}  // namespace echoloom
