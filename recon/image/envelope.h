#pragma once
/// From the beamformed field to brightness: analytic envelope, attenuation compensation, log compression.

#include <span>
#include <vector>

#include "recon/beamform/beamform.h"

namespace echoloom {

/// Modulus of the analytic signal of each line, [column, depth] with depth fastest. Lines are padded with zeros before
/// the Fourier transform, so that the end of a line does not reach its start. Same as SciPy's
/// abs(signal.hilbert(line, N=envelope_transform_length(depths)))[:depths].
std::vector<float> line_envelope(std::span<const float> rf, std::size_t columns, std::size_t depths);
std::size_t envelope_transform_length(std::size_t depths);

/// sqrt(real^2 + imaginary^2), element by element.
std::vector<float> modulus(std::span<const float> real, std::span<const float> imaginary);

/// Factor on the amplitude at a depth that makes up for attenuation there and back: 10^(2 a f0 z / 20).
double attenuation_compensation(double gain_dB_cm_MHz, double center_Hz, double depth_m);

/// 20 log10(envelope / reference), not less than `min_dB` (silence included). Throws std::invalid_argument where the
/// reference is not greater than 0.
std::vector<float> to_dB(std::span<const float> envelope, float reference, float min_dB = -300.0F);

}  // namespace echoloom
