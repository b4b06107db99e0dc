#pragma once
/// The innermost sums of delay-and-sum, over contiguous terms. Each has a plain twin in double precision that a test
/// holds it to.

#include <cstdint>
#include <span>

#include "recon/beamform/taps.h"

namespace echoloom {

/// One element's part in one sample of a line: where in the bank of real traces, and with what weight.
struct LineTerm {
    std::uint32_t first;  ///< index in the bank of the first of four neighbours
    std::uint32_t phase;
    float weight;
};

float sum_line_terms(std::span<const LineTerm> terms, const float* bank, const TapTable& taps);
double sum_line_terms_plain(std::span<const LineTerm> terms, const float* bank, Interpolation interpolation);

}  // namespace echoloom
