#pragma once
/// Interpolation between neighbouring samples.

#include <array>
#include <cstdint>

#include "recon/beamform/recipe.h"

namespace echoloom {

/// Weights of the samples at -1, 0, 1, 2 from the whole part of a position, by their definition; `fraction` in [0, 1).
/// Linear between two, else Lagrange's polynomial through four.
std::array<double, 4> plain_taps(Interpolation interpolation, double fraction);

/// The quadratic B-spline: 3/4 - t^2 up to 1/2, (3/2 - |t|)^2 / 2 up to 3/2.
double quadratic_spline(double t);

/// Samples of silence in front of and behind each trace that is made ready: four of the widest vectors, so that
/// positions on both sides of an end can be read together.
inline constexpr std::int32_t trace_silence = 64;

/// How many samples of a line's trace there are to one recorded sample.
constexpr int upsampling_factor(Interpolation interpolation) {
    return interpolation == Interpolation::upsampled ? 2 : 1;
}

}  // namespace echoloom
