#pragma once
/// What a ring radiates to a point, and what it receives from there: the Rayleigh integral of exp(-gamma R) / (2 pi R)
/// over a flat ring in a rigid baffle, gamma = attenuation + j wavenumber.
///
/// A ring is large against a wavelength, so it is not cut into patches. For a disc of radius a the integral over the
/// face reduces to one along its edge (A. Schoch, Akustische Zeitschrift 6, 318-326, 1941, from memory): at radius r
/// and height z
///
///   gamma H = chi exp(-gamma z) - (1/pi) int_0^pi exp(-gamma R) (a^2 - a r cos phi) / (a^2 + r^2 - 2 a r cos phi) dphi
///
/// with R^2 = z^2 + a^2 + r^2 - 2 a r cos phi, and chi = 1 under the disc, 1/2 at its edge and 0 beside it. A ring is
/// the difference of two discs. The integrand is periodic and, away from r = a, analytic: the trapezoidal rule
/// converges geometrically.

#include <complex>
#include <vector>

namespace echoloom {

/// weight exp(-gamma path): an edge wave, or the plane wave straight from the face.
struct WaveTerm {
    double weight = 0.0;
    double path_m = 0.0;
};

/// gamma H = sum of `plain` + gamma * sum of `by_gamma`.
struct RingTerms {
    std::vector<WaveTerm> plain;
    std::vector<WaveTerm> by_gamma;
};

/// Fills the terms of a ring at radius `r_m` and height `z_m` (its mirror image counts the same). They are right to
/// about `tolerance` of a plane wave up to `max_wavenumber` (rad/m).
void ring_terms(double inner_m, double outer_m, double r_m, double z_m, double max_wavenumber, double tolerance,
                RingTerms& out);

/// The response in metres, to about 1e-9 of 1 / |gamma|.
std::complex<double> ring_response(double inner_m, double outer_m, double r_m, double z_m,
                                   std::complex<double> gamma_per_m);

}  // namespace echoloom
