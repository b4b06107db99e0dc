#pragma once
/// How many Chebyshev nodes a phase needs, from the series of its exponential.

#include <cstddef>

namespace echoloom {

/// Root mean square error of exp(j a t), |t| <= 1, interpolated at `nodes` Chebyshev points. Its Chebyshev series has
/// the coefficients 2 j^n J_n(a) (Abramowitz & Stegun 9.1.44-45, from memory); interpolation folds all from `nodes` on
/// onto lower ones, so the mean square error is the sum of their squares. Tabulated; `a` is rounded up.
double interpolation_error(double a, std::size_t nodes);

/// Fewest nodes for which that error is at most `tolerance`; max_nodes + 1 where none are enough.
std::size_t nodes_for_phase(double a, double tolerance);

inline constexpr std::size_t max_nodes = 256;

}  // namespace echoloom
