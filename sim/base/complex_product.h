#pragma once
/// The product of complex numbers without the checks for infinities that operator* makes.

#include <complex>

namespace echoloom {

inline std::complex<double> product(std::complex<double> a, std::complex<double> b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

}  // namespace echoloom
