#include "recon/beamform/trace_padding.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

/// From one to zero by a raised cosine.
std::vector<float> falling_ramp(std::size_t count) {
    std::vector<float> ramp(count);
    for (std::size_t i = 0; i < count; ++i) {
        const double place = (static_cast<double>(i) + 0.5) / static_cast<double>(count);
        ramp[i] = static_cast<float>(0.5 + 0.5 * std::cos(std::numbers::pi * place));
    }
    return ramp;
}

}  // namespace

std::size_t smooth_length(std::size_t least) {
    for (std::size_t length = std::max<std::size_t>(2, least + least % 2);; length += 2) {
        std::size_t rest = length;
        for (const std::size_t prime : {2U, 3U, 5U, 7U}) {
            while (rest % prime == 0) {
                rest /= prime;
            }
        }
        if (rest == 1) {
            return length;
        }
    }
}

TracePadding::TracePadding(std::size_t samples, std::size_t padding, const HighPass& high_pass)
    : samples_(samples), length_(smooth_length(samples + padding)) {
    if (!high_pass.none()) {
        end_share_ = falling_ramp(length_ - samples);
    }
}

void TracePadding::fill(std::span<const float> trace, float* padded) const {
    std::ranges::copy(trace, padded);
    float* const padding = padded + samples_;
    if (end_share_.empty()) {
        std::fill(padding, padded + length_, 0.0F);
        return;
    }
    const std::size_t last = samples_ - 1;
    for (std::size_t i = 0; i < end_share_.size(); ++i) {
        const float end = padded[last - std::min(i, last)];
        const float start = padded[std::min(end_share_.size() - 1 - i, last)];
        padding[i] = start + end_share_[i] * (end - start);
    }
}

}  // namespace echoloom
