#pragma once
/// From amplitude to grey: logarithmic compression.

#include <array>
#include <cstdint>
#include <span>
#include <vector>

namespace echoloom {

/// White stands for `white_dB` re the reference amplitude, black for `range_dB` below it; linear in dB between.
struct GreyScale {
    double white_dB = 0.0;
    double range_dB = 60.0;
    double black_dB() const { return white_dB - range_dB; }
};

/// 0 for black to 255 for white, rounded; levels beyond the scale are clipped.
std::uint8_t grey_level(const GreyScale& scale, double level_dB);

/// The same for an amplitude; zero and NaN are black.
std::uint8_t grey_of_amplitude(const GreyScale& scale, double amplitude, double reference);

/// grey_of_amplitude of many amplitudes against one reference: the same levels at a tenth of the time, by comparing
/// with the amplitudes at which the level rises.
class GreyTable {
  public:
    GreyTable(const GreyScale& scale, double reference);
    std::uint8_t operator()(float amplitude) const;

  private:
    std::array<float, 257> min_;         ///< amplitude of each level, infinite or NaN where there is none; then NaN
    std::vector<std::uint8_t> started_;  ///< level of the smallest amplitude that shares its uppermost bits
};

/// Largest value. Throws InputError where one is not finite.
double peak_amplitude(std::span<const float> envelope);

}  // namespace echoloom
