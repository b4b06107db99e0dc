#pragma once
/// Several samples to a pixel, reduced to one so that no peak between pixel centres is lost.

#include <cstddef>
#include <span>
#include <vector>

namespace echoloom {

/// Reduces an odd number of parts to one value for each pixel: the middle part, or the largest where that is a local
/// peak, no less than the samples just outside, `before` and `after`. Each argument runs over pixels side by side,
/// fine[part][pixel]. NaN in the middle stays NaN, elsewhere it never counts as larger.
void keep_peaks(std::span<const float* const> fine, const float* before, const float* after, std::span<float> coarse);

/// Samples along a line of pixels, each part of them apart: parts of the same rank lie side by side.
class PixelParts {
  public:
    /// All samples NaN; `parts` is odd.
    PixelParts(std::size_t pixels, std::size_t parts);

    std::size_t pixels() const { return pixels_; }
    std::size_t parts() const { return starts_.size(); }
    /// That part of every pixel.
    std::span<float> part(std::size_t rank) { return std::span(values_).subspan(rank * (pixels_ + 2) + 1, pixels_); }
    /// One value for each pixel, as keep_peaks; beyond both ends there is nothing.
    void reduce(std::span<float> coarse) const;

  private:
    std::size_t pixels_;
    std::vector<float> values_;  ///< [part, one before, pixels, one after]
    std::vector<const float*> starts_;
};

}  // namespace echoloom
