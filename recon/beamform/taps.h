#pragma once
/// Interpolation as a table of four weights per fraction of a sample: every choice runs through the same kernel.

#include <array>
#include <cstdint>
#include <vector>

#include "recon/beamform/recipe.h"

namespace echoloom {

/// A fraction of a sample is rounded to 1/512: at twice 40 MHz that is 24 ps, 0.02 % of an echo at 7 MHz.
inline constexpr int phase_bits = 9;
inline constexpr int phases = 1 << phase_bits;

class TapTable {
  public:
    /// `repeat` 1 for real samples; 2 writes every weight twice, for real and imaginary parts side by side.
    TapTable(Interpolation interpolation, int repeat);
    /// Weights of the samples at -1, 0, 1, 2 from the whole part of a position, its fraction being phase / phases.
    const float* row(std::uint32_t phase) const { return weights_.data() + phase * row_length_; }

  private:
    std::size_t row_length_;
    std::vector<float> weights_;
};

/// The four weights by their definition, `fraction` in [0, 1).
std::array<double, 4> plain_taps(Interpolation interpolation, double fraction);

/// Samples of silence in front of and behind each trace that is made ready: four of the widest vectors, so
/// that positions on both sides of an end can be read together.
inline constexpr std::int32_t trace_silence = 64;

/// How many samples there are to one recorded sample.
constexpr int upsampling_factor(Interpolation interpolation) {
    return interpolation == Interpolation::upsampled ? 2 : 1;
}

}  // namespace echoloom
