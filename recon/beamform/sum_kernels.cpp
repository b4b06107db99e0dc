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
        const auto taps = plain_taps(interpolation, static_cast<double>(term.phase) / phases);
        for (std::size_t j = 0; j < 4; ++j) {
            sum += static_cast<double>(term.weight) * taps[j] * static_cast<double>(bank[term.first + j]);
        }
    }
    return sum;
}

}  // namespace echoloom
