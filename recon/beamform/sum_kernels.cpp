#include "recon/beamform/sum_kernels.h"

#include <algorithm>
#include <array>
#include <cstring>

namespace echoloom {
namespace {

/// Four floats in one register, on every machine the compilers know; lane by lane the same as plain floats.
using Four = float __attribute__((vector_size(16)));

Four load(const float* from) {
    Four value;
    std::memcpy(&value, from, sizeof value);
    return value;
}

Four broadcast(float value) {
    return Four{value, value, value, value};
}

/// Four weights by their definition, at the exact phase.
std::array<double, 4> plain_taps(Interpolation interpolation, std::uint32_t phase) {
    const double f = static_cast<double>(phase) / phases;
    if (interpolation == Interpolation::linear) {
        return {0.0, 1.0 - f, f, 0.0};
    }
    std::array<double, 4> taps{};
    for (int j = 0; j < 4; ++j) {
        double tap = 1.0;
        for (int m = 0; m < 4; ++m) {
            tap *= m == j ? 1.0 : (f + 1.0 - m) / (j - m);
        }
        taps[static_cast<std::size_t>(j)] = tap;
    }
    return taps;
}

}  // namespace

float sum_line_terms(std::span<const LineTerm> terms, const float* bank, const TapTable& taps) {
    // Two sums in turn, so that an addition need not wait for the one before.
    Four even = broadcast(0.0F);
    Four odd = broadcast(0.0F);
    const auto part = [&](const LineTerm& term) {
        return broadcast(term.weight) * load(taps.row(term.phase)) * load(bank + term.first);
    };
    std::size_t i = 0;
    for (; i + 1 < terms.size(); i += 2) {
        even += part(terms[i]);
        odd += part(terms[i + 1]);
    }
    if (i < terms.size()) {
        even += part(terms[i]);
    }
    const Four sum = even + odd;
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

double sum_line_terms_plain(std::span<const LineTerm> terms, const float* bank, Interpolation interpolation) {
    double sum = 0.0;
    for (const LineTerm& term : terms) {
        const auto taps = plain_taps(interpolation, term.phase);
        for (std::size_t j = 0; j < 4; ++j) {
            sum += static_cast<double>(term.weight) * taps[j] * static_cast<double>(bank[term.first + j]);
        }
    }
    return sum;
}

std::complex<float> sum_pixel_terms(std::span<const PixelTerm> terms, std::int32_t transmit_position,
                                    std::int32_t least, std::int32_t most, const float* bank, const TapTable& taps) {
    // Lanes hold (real, imaginary) of neighbours -1 and 0, and of 1 and 2.
    Four before = broadcast(0.0F);
    Four after = broadcast(0.0F);
    for (const PixelTerm& term : terms) {
        const auto position = static_cast<std::uint32_t>(std::clamp(term.position + transmit_position, least, most));
        const float* const samples = bank + 2 * std::size_t{term.row + (position >> position_bits) - 1};
        const float* const weights = taps.row((position >> (position_bits - phase_bits)) & (phases - 1));
        const Four weight = broadcast(term.weight);
        before += weight * load(weights) * load(samples);
        after += weight * load(weights + 4) * load(samples + 4);
    }
    const Four sum = before + after;
    return {sum[0] + sum[2], sum[1] + sum[3]};
}

std::complex<double> sum_pixel_terms_plain(std::span<const PixelTerm> terms, std::int32_t transmit_position,
                                           std::int32_t least, std::int32_t most, const float* bank,
                                           Interpolation interpolation) {
    std::complex<double> sum = 0.0;
    for (const PixelTerm& term : terms) {
        const auto position = static_cast<std::uint32_t>(std::clamp(term.position + transmit_position, least, most));
        const auto taps = plain_taps(interpolation, (position >> (position_bits - phase_bits)) & (phases - 1));
        for (std::size_t j = 0; j < 4; ++j) {
            const std::size_t sample = term.row + (position >> position_bits) - 1 + j;
            sum += static_cast<double>(term.weight) * taps[j] *
                   std::complex<double>(bank[2 * sample], bank[2 * sample + 1]);
        }
    }
    return sum;
}

}  // namespace echoloom
