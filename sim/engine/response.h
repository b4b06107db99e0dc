#pragma once
/// The one-way responses of every element to every scatterer of a cell, at the cell's frequency bins.

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "sim/base/aligned.h"
#include "sim/engine/window_plan.h"

namespace echoloom {

/// G [bin, scatterer, element], in metres, relative to the elements' reference delays and without the part of the path
/// constant that is applied per element. Real and imaginary parts apart, element fastest, padded.
struct ResponseGrid {
    std::size_t bins = 0;
    std::size_t scatterers = 0;
    std::size_t padded = 0;
    AlignedVector<float> real;
    AlignedVector<float> imaginary;
    std::vector<float> strength;  ///< [scatterer]

    std::size_t at(std::size_t bin, std::size_t scatterer) const { return (bin * scatterers + scatterer) * padded; }
    /// Takes room, and the strengths; storage that is there is kept.
    void start(std::size_t bin_count, std::size_t elements_padded, std::span<const Scatterer> cell);
};

/// The Rayleigh integral over each element's face,
///
///   G_e(s, f) = integral of B exp(-j 2 pi f (R / c + tau_lens - reference_e)) exp(-gamma(f) R) / (2 pi R) dS,
///
/// by Gauss-Legendre points: travel times in double precision, then a float recurrence over the bins. B is 1 for a
/// rigid baffle and cos(theta) for a soft one (Selfridge, Kino & Khuri-Yakub 1980, from memory).
void compute_responses(const EngineContext& context, const ElementArrays& elements, const WindowPlan& plan,
                       std::span<const Scatterer> scatterers, ResponseGrid& out);

/// gamma(f) less its straight part, per bin of a plan; empty where nothing is left.
std::vector<std::complex<float>> path_constant_rest(const EngineContext& context, const WindowPlan& plan);

/// What is left of each element's response: [bin * padded + element], complex parts apart: attenuation and dispersion
/// over the reference path, and the element's own delay; its gain is left to the trace.
struct ElementFactors {
    std::vector<float> real;
    std::vector<float> imaginary;
    std::vector<std::complex<float>> row;  ///< [element * bins + bin] the same times the pulse
    std::vector<std::complex<float>>
        pulse;  ///< [bin] its spectrum, turned to the window's start and scaled for the transform
};
ElementFactors element_factors(const EngineContext& context, const WindowPlan& plan);

}  // namespace echoloom
