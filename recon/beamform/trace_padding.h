#pragma once
/// A trace made longer before it is transformed, so that its end does not reach its start.

#include <cstddef>
#include <span>
#include <vector>

#include "recon/beamform/high_pass.h"

namespace echoloom {

/// Least length of at least `least` that is even and has no prime factor above 7.
std::size_t smooth_length(std::size_t least);

/// Zeros where nothing is cut; else the mirror image of the trace's end passing over into that of its start, so that an
/// offset has no edge the cut would leave.
class TracePadding {
  public:
    /// Samples behind a trace unless more are asked for. What a band-limited kernel carries from a sharp end around to
    /// the start falls as one over this count.
    static constexpr std::size_t usual = 128;

    TracePadding(std::size_t samples, std::size_t padding, const HighPass& high_pass);

    std::size_t samples() const { return samples_; }
    std::size_t length() const { return length_; }
    void fill(std::span<const float> trace, float* padded) const;

  private:
    std::size_t samples_, length_;
    std::vector<float> end_share_;  ///< [padding] of the trace's end in the padding; empty where that is zeros
};

}  // namespace echoloom
