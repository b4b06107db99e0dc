#include "recon/image/grey_scale.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

#include "sim/base/error.h"

namespace echoloom {

std::uint8_t grey_level(const GreyScale& scale, double level_dB) {
    const double fraction = std::clamp((level_dB - scale.black_dB()) / scale.range_dB, 0.0, 1.0);
    return static_cast<std::uint8_t>(std::lround(255.0 * fraction));
}

std::uint8_t grey_of_amplitude(const GreyScale& scale, double amplitude, double reference) {
    if (!(amplitude > 0.0) || !(reference > 0.0)) {
        return 0;
    }
    return grey_level(scale, 20.0 * std::log10(amplitude / reference));
}

namespace {

// Bits of floats that are not negative are in the order of the floats.
constexpr unsigned dropped_bits = 16;  ///< 128 groups an octave, mostly within one level
constexpr auto infinite = std::bit_cast<std::uint32_t>(std::numeric_limits<float>::infinity());

}  // namespace

GreyTable::GreyTable(const GreyScale& scale, double reference) : started_((infinite >> dropped_bits) + 1) {
    min_.fill(std::numeric_limits<float>::quiet_NaN());
    min_[0] = 0.0F;
    std::uint32_t below = 0;
    for (std::size_t level = 1; level <= 255; ++level) {
        const auto reached = [&](std::uint32_t bits) {
            return grey_of_amplitude(scale, std::bit_cast<float>(bits), reference) >= level;
        };
        std::uint32_t least = infinite;
        if (!reached(least)) {
            break;
        }
        while (least - below > 1) {
            const std::uint32_t middle = below + (least - below) / 2;
            (reached(middle) ? least : below) = middle;
        }
        min_[level] = std::bit_cast<float>(least);
    }
    std::size_t level = 0;
    for (std::uint32_t group = 0; group < started_.size(); ++group) {
        while (std::bit_cast<float>(group << dropped_bits) >= min_[level + 1]) {
            ++level;
        }
        started_[group] = static_cast<std::uint8_t>(level);
    }
}

std::uint8_t GreyTable::operator()(float amplitude) const {
    if (!(amplitude > 0.0F)) {
        return 0;
    }
    std::uint8_t level = started_[std::bit_cast<std::uint32_t>(amplitude) >> dropped_bits];
    while (amplitude >= min_[level + 1U]) {
        ++level;
    }
    return level;
}

double peak_amplitude(std::span<const float> envelope) {
    float peak = 0.0F;
    for (const float value : envelope) {
        if (!std::isfinite(value)) {
            throw InputError("the image's envelope holds a value that is not a finite number; reconstruct it again");
        }
        peak = std::max(peak, value);
    }
    return peak;
}

}  // namespace echoloom
