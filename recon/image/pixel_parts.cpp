#include "recon/image/pixel_parts.h"

#include <limits>

namespace echoloom {

void keep_peaks(std::span<const float* const> fine, const float* before, const float* after, std::span<float> coarse) {
    const float* middle = fine[fine.size() / 2];
    const std::size_t count = coarse.size();
    float* largest = coarse.data();
    for (std::size_t i = 0; i < count; ++i) {
        largest[i] = middle[i];
    }
    for (const float* part : fine) {
        for (std::size_t i = 0; i < count; ++i) {
            largest[i] = part[i] > largest[i] ? part[i] : largest[i];
        }
    }
    for (std::size_t i = 0; i < count; ++i) {
        const float most = largest[i];
        const float same = middle[i];
        const float below_before = before[i] > most ? same : most;
        largest[i] = after[i] > most ? same : below_before;
    }
}

PixelParts::PixelParts(std::size_t pixels, std::size_t parts)
    : pixels_(pixels), values_(parts * (pixels + 2), std::numeric_limits<float>::quiet_NaN()) {
    for (std::size_t rank = 0; rank < parts; ++rank) {
        starts_.push_back(part(rank).data());
    }
}

void PixelParts::reduce(std::span<float> coarse) const {
    keep_peaks(starts_, starts_.back() - 1, starts_.front() + 1, coarse);
}

}  // namespace echoloom
