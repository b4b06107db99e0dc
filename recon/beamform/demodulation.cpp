#include "recon/beamform/demodulation.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/beamform/trace_padding.h"
#include "sim/base/fftw_memory.h"

namespace echoloom {

struct Demodulation::Plans {
    TracePadding padding;
    std::size_t carrier;            ///< bin
    std::vector<float> bin_factor;  ///< [padded / 2 + 1] scale, high-pass and the spline's inverse in one
    Plan forward;
    Plan inverse;
};

struct Demodulation::Workspace::Buffers {
    FloatBuffer input;        ///< [padded]
    ComplexBuffer spectrum;   ///< [padded / 2 + 1] of the trace
    ComplexBuffer shifted;    ///< [padded] of the amplitude
    ComplexBuffer amplitude;  ///< [padded]
};

namespace {

/// Positive frequencies twice, those that are their own mirror images once.
std::vector<float> bin_factors(std::size_t padded, std::size_t carrier, const HighPass& high_pass) {
    const std::size_t half = padded / 2;
    std::vector<float> factors(half + 1);
    for (std::size_t k = 0; k <= half; ++k) {
        const double gain = high_pass.gain(static_cast<double>(k) / static_cast<double>(padded));
        const double twice = k == 0 || k == half ? 1.0 : 2.0;
        const double turn = 2.0 * std::numbers::pi * (static_cast<double>(k) - static_cast<double>(carrier)) /
                            static_cast<double>(padded);
        const double spline = 0.75 + 0.25 * std::cos(turn);
        factors[k] = static_cast<float>(gain * twice / spline / static_cast<double>(padded));
    }
    return factors;
}

}  // namespace

Demodulation::Workspace::Workspace(const Demodulation& demodulation) : buffers_(std::make_unique<Buffers>()) {
    const std::size_t padded = demodulation.plans_->padding.length();
    buffers_->input = floats(padded);
    buffers_->spectrum = complexes(padded / 2 + 1);
    buffers_->shifted = complexes(padded);
    buffers_->amplitude = complexes(padded);
}

Demodulation::Workspace::~Workspace() = default;
Demodulation::Workspace::Workspace(Workspace&&) noexcept = default;
Demodulation::Workspace& Demodulation::Workspace::operator=(Workspace&&) noexcept = default;

Demodulation::Demodulation(std::size_t samples, double carrier, std::size_t padding, const HighPass& high_pass)
    : plans_(new Plans{.padding = TracePadding(samples, padding, high_pass),
                       .carrier = 0,
                       .bin_factor = {},
                       .forward = nullptr,
                       .inverse = nullptr}) {
    const std::size_t padded = plans_->padding.length();
    plans_->carrier =
        std::min(static_cast<std::size_t>(std::lround(carrier * static_cast<double>(padded))), padded / 2);
    plans_->bin_factor = bin_factors(padded, plans_->carrier, high_pass);
    const Workspace workspace(*this);
    const auto& b = *workspace.buffers_;
    const auto length = static_cast<int>(padded);
    plans_->forward.reset(fftwf_plan_dft_r2c_1d(length, b.input.get(), b.spectrum.get(), FFTW_ESTIMATE));
    plans_->inverse.reset(fftwf_plan_dft_1d(length, b.shifted.get(), b.amplitude.get(), FFTW_BACKWARD, FFTW_ESTIMATE));
}

Demodulation::~Demodulation() = default;
Demodulation::Demodulation(Demodulation&&) noexcept = default;
Demodulation& Demodulation::operator=(Demodulation&&) noexcept = default;

double Demodulation::carrier() const {
    return static_cast<double>(plans_->carrier) / static_cast<double>(plans_->padding.length());
}

void Demodulation::run(std::span<const float> trace, std::span<float> real, std::span<float> imaginary,
                       Workspace& workspace) const {
    const auto& b = *workspace.buffers_;
    plans_->padding.fill(trace, b.input.get());
    fftwf_execute_dft_r2c(plans_->forward.get(), b.input.get(), b.spectrum.get());
    const std::size_t padded = plans_->padding.length();
    const std::size_t carrier = plans_->carrier;
    const float* const factor = plans_->bin_factor.data();
    auto* const shifted = b.shifted.get();
    const auto put = [&](std::size_t from, std::size_t to) {
        shifted[to][0] = factor[from] * b.spectrum[from][0];
        shifted[to][1] = factor[from] * b.spectrum[from][1];
    };
    for (std::size_t k = 0; k < carrier; ++k) {
        put(k, padded - carrier + k);
    }
    for (std::size_t k = carrier; k <= padded / 2; ++k) {
        put(k, k - carrier);
    }
    std::fill(&shifted[padded / 2 - carrier + 1][0], &shifted[0][0] + 2 * (padded - carrier), 0.0F);
    fftwf_execute_dft(plans_->inverse.get(), shifted, b.amplitude.get());
    for (std::size_t n = 0; n < plans_->padding.samples(); ++n) {
        real[n] = b.amplitude[n][0];
        imaginary[n] = b.amplitude[n][1];
    }
}

}  // namespace echoloom
