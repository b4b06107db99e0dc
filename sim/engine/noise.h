#pragma once
/// What the receiver adds: noise and quantization, both reproducible from a seed and a place in the recording.

#include <cstdint>
#include <span>

namespace echoloom {

/// Adds white Gaussian noise of standard deviation `rms` to the samples of one event. The value at a sample depends on
/// (seed, event, sample) alone.
void add_noise(std::span<float> samples, double rms, std::uint64_t seed, std::size_t event);

/// Rounds to whole steps of full_scale / (2^(bits-1) - 1); what exceeds full scale is clipped.
void quantize(std::span<float> samples, double full_scale, int bits);

}  // namespace echoloom
