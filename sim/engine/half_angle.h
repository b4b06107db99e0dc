#pragma once
/// Half an angle's sine and cosine as polynomials, for kernels that begin phasors: the vector library's own functions,
/// which take any angle, cost several times as much.

namespace echoloom {

/// sin(pi x) / x and cos(pi x) in powers of x^2, the highest first, for x from -1/2 to 1/2: through Chebyshev's points,
/// 7e-9 and 2e-10 off. A phasor is then cos(2 pi x) = 1 - 2 sin^2 and sin(2 pi x) = 2 sin cos.
inline constexpr float half_sine[] = {0.07765591F, -0.59829041F, 2.55007739F, -5.16771008F, 3.14159264F};
inline constexpr float half_cosine[] = {-0.02439593F, 0.23493707F, -1.33521195F, 4.05870915F, -4.93480214F, 1.0F};

}  // namespace echoloom
