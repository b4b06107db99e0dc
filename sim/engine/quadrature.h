#pragma once
/// Gauss-Legendre points over an element, and how many an echo of given obliquity needs.

#include <cstddef>
#include <vector>

namespace echoloom {

struct GaussLegendre {
    std::vector<double> node;    ///< in (-1, 1), ascending
    std::vector<double> weight;  ///< sums to 2
};

/// Points exact for polynomials of degree 2 count - 1 (Newton on the Legendre recurrence).
GaussLegendre gauss_legendre(int count);
/// The same, made once in a run of the program: a short run makes rules for each part of its pulse. From any thread.
const GaussLegendre& kept_gauss_legendre(int count);

/// Rules go up to this many points: a face of forty wavelengths of path difference.
inline constexpr int max_face_points = 768;

/// Fewest points (or max_face_points + 1) for which the mean of exp(j a t) over (-1, 1) is right to `tolerance`, from
/// the rule's error term 2^(2n) (n!)^4 / ((2n+1) ((2n)!)^3) a^(2n) (Abramowitz & Stegun 25.4.30, from memory).
int points_for_phase(double a, double tolerance);

/// The further points that a branch point of the distance at `relative_distance` half-lengths from the element asks
/// for: the rule converges like rho^(-2n), rho = d + sqrt(1 + d^2), where the integrand is analytic inside that
/// ellipse.
int points_for_nearness(double relative_distance, double tolerance);

}  // namespace echoloom
