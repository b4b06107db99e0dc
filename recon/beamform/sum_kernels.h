#pragma once
/// The innermost sums of delay-and-sum, over contiguous terms. Each has a plain twin in double precision that a test
/// holds it to.

#include <complex>
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

/// Positions along a trace in units of 1/2048 sample, so that a transmit and a receive part can be added as integers.
inline constexpr int position_bits = 11;
inline constexpr double positions_per_sample = 1 << position_bits;
/// Added once to a position so that dropping the low bits rounds to the nearest phase.
inline constexpr std::int32_t rounding = 1 << (position_bits - phase_bits - 1);

/// One element's part in one pixel, the same for every event.
struct PixelTerm {
    std::uint32_t row;      ///< index in the bank, in analytic samples, of the row's start
    std::int32_t position;  ///< receive part
    float weight;
};

/// Sum over the terms at receive position + `transmit_position`; `taps` repeat every weight twice. Positions outside
/// [least, most] are read at the nearer end, where the trace is silent.
std::complex<float> sum_pixel_terms(std::span<const PixelTerm> terms, std::int32_t transmit_position,
                                    std::int32_t least, std::int32_t most, const float* bank, const TapTable& taps);
std::complex<double> sum_pixel_terms_plain(std::span<const PixelTerm> terms, std::int32_t transmit_position,
                                           std::int32_t least, std::int32_t most, const float* bank,
                                           Interpolation interpolation);

}  // namespace echoloom
