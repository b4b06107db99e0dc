#include "recon/beamform/fft.h"

#include <fftw3.h>

#include <algorithm>
#include <cmath>
#include <new>
#include <numbers>
#include <vector>

namespace echoloom {
namespace {

struct FreeFftw {
    void operator()(void* memory) const { fftwf_free(memory); }
};
using FloatBuffer = std::unique_ptr<float[], FreeFftw>;
using ComplexBuffer = std::unique_ptr<fftwf_complex[], FreeFftw>;

struct DestroyPlan {
    void operator()(fftwf_plan plan) const { fftwf_destroy_plan(plan); }
};
using Plan = std::unique_ptr<std::remove_pointer_t<fftwf_plan>, DestroyPlan>;

FloatBuffer floats(std::size_t count) {
    FloatBuffer buffer(fftwf_alloc_real(count));
    if (!buffer) {
        throw std::bad_alloc();
    }
    return buffer;
}

ComplexBuffer complexes(std::size_t count) {
    ComplexBuffer buffer(fftwf_alloc_complex(count));
    if (!buffer) {
        throw std::bad_alloc();
    }
    return buffer;
}

/// The bin at half the recorded rate belongs half to positive and half to negative frequencies. Once the rate is
/// raised, and for an analytic signal always, the halves have separate places.
std::vector<float> bin_factors(std::size_t padded, int factor, TraceTransform::Output output, const LowCut& low_cut) {
    const bool real = output != TraceTransform::Output::analytic;  // made of real transforms
    const std::size_t half = padded / 2;
    const float scale = 1.0F / static_cast<float>(padded);
    const float inner = real ? scale : 2.0F * scale;
    const float nyquist = real && factor > 1 ? 0.5F * scale : scale;
    std::vector<float> factors(half + 1);
    for (std::size_t k = 0; k <= half; ++k) {
        const double gain = low_cut.gain(static_cast<double>(k) / static_cast<double>(padded));
        factors[k] = (k == 0 ? scale : k == half ? nyquist : inner) * static_cast<float>(gain);
    }
    return factors;
}

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

struct TraceTransform::Workspace::Buffers {
    FloatBuffer input;       ///< [padded]
    ComplexBuffer spectrum;  ///< room for the spectrum of the output
    ComplexBuffer turned;    ///< the same a quarter turn later, where parts come out apart
    FloatBuffer real;        ///< output of a real transform
    ComplexBuffer analytic;  ///< output of an analytic one
};

struct TraceTransform::Plans {
    std::size_t samples;
    std::size_t padded;
    std::size_t factor;
    Output output;
    std::vector<float> bin_factor;  ///< [padded / 2 + 1] scale, halves of the spectrum and low cut in one
    std::vector<float> end_share;   ///< [padding] of the trace's end in the padding; empty where that is zeros
    Plan forward;
    Plan inverse;
};

TraceTransform::Workspace::Workspace(const TraceTransform& transform) : buffers_(std::make_unique<Buffers>()) {
    const Plans& plans = *transform.plans_;
    const std::size_t length = plans.padded * plans.factor;
    buffers_->input = floats(plans.padded);
    if (plans.output != Output::analytic) {
        if (plans.output == Output::apart) {
            buffers_->turned = complexes(length / 2 + 1);
        }
        buffers_->spectrum = complexes(length / 2 + 1);
        buffers_->real = floats(length);
    } else {
        buffers_->spectrum = complexes(length);
        buffers_->analytic = complexes(length);
    }
}

TraceTransform::Workspace::~Workspace() = default;
TraceTransform::Workspace::Workspace(Workspace&&) noexcept = default;
TraceTransform::Workspace& TraceTransform::Workspace::operator=(Workspace&&) noexcept = default;

TraceTransform::TraceTransform(std::size_t samples, int factor, Output output, std::size_t padding,
                               const LowCut& low_cut)
    : plans_(std::make_unique<Plans>()) {
    plans_->samples = samples;
    plans_->padded = smooth_length(samples + padding);
    plans_->factor = static_cast<std::size_t>(factor);
    plans_->output = output;
    plans_->bin_factor = bin_factors(plans_->padded, factor, output, low_cut);
    if (!low_cut.none()) {
        plans_->end_share = falling_ramp(plans_->padded - samples);
    }
    const Workspace workspace(*this);
    const auto& buffers = *workspace.buffers_;
    const auto padded = static_cast<int>(plans_->padded);
    plans_->forward.reset(fftwf_plan_dft_r2c_1d(padded, buffers.input.get(), buffers.spectrum.get(), FFTW_ESTIMATE));
    if (output != Output::analytic) {
        plans_->inverse.reset(
            fftwf_plan_dft_c2r_1d(padded * factor, buffers.spectrum.get(), buffers.real.get(), FFTW_ESTIMATE));
    } else {
        plans_->inverse.reset(fftwf_plan_dft_1d(padded * factor, buffers.spectrum.get(), buffers.analytic.get(),
                                                FFTW_BACKWARD, FFTW_ESTIMATE));
    }
}

TraceTransform::~TraceTransform() = default;
TraceTransform::TraceTransform(TraceTransform&&) noexcept = default;
TraceTransform& TraceTransform::operator=(TraceTransform&&) noexcept = default;

std::size_t TraceTransform::padded_length() const {
    return plans_->padded;
}

std::size_t TraceTransform::output_samples() const {
    return plans_->samples * plans_->factor;
}

void TraceTransform::pad(float* padded) const {
    const auto& share = plans_->end_share;
    float* const padding = padded + plans_->samples;
    if (share.empty()) {
        std::fill(padding, padded + plans_->padded, 0.0F);
        return;
    }
    const std::size_t last = plans_->samples - 1;
    for (std::size_t i = 0; i < share.size(); ++i) {
        const float end = padded[last - std::min(i, last)];
        const float start = padded[std::min(share.size() - 1 - i, last)];
        padding[i] = start + share[i] * (end - start);
    }
}

void TraceTransform::run(std::span<const float> trace, std::span<float> output, Workspace& workspace,
                         std::size_t to_imaginary) const {
    auto& buffers = *workspace.buffers_;
    std::ranges::copy(trace, buffers.input.get());
    pad(buffers.input.get());
    fftwf_execute_dft_r2c(plans_->forward.get(), buffers.input.get(), buffers.spectrum.get());
    if (plans_->output == Output::apart) {
        run_apart(output, to_imaginary, workspace);
        return;
    }

    const std::size_t recorded_bins = plans_->bin_factor.size();
    const bool real = plans_->output == Output::real;
    const std::size_t bins = real ? plans_->padded / 2 * plans_->factor + 1 : plans_->padded * plans_->factor;
    auto* const spectrum = buffers.spectrum.get();
    for (std::size_t k = 0; k < recorded_bins; ++k) {
        spectrum[k][0] *= plans_->bin_factor[k];
        spectrum[k][1] *= plans_->bin_factor[k];
    }
    std::fill(&spectrum[recorded_bins][0], &spectrum[0][0] + 2 * bins, 0.0F);

    if (real) {
        fftwf_execute_dft_c2r(plans_->inverse.get(), spectrum, buffers.real.get());
        std::copy_n(buffers.real.get(), output_samples(), output.begin());
    } else {
        fftwf_execute_dft(plans_->inverse.get(), spectrum, buffers.analytic.get());
        std::copy_n(&buffers.analytic[0][0], 2 * output_samples(), output.begin());
    }
}

/// The real part comes from the spectrum as it is, the imaginary part from the spectrum a quarter turn later, -j S for
/// positive frequencies: two real transforms take the time of one that is complex, and need no sorting.
void TraceTransform::run_apart(std::span<float> output, std::size_t to_imaginary, Workspace& workspace) const {
    auto& buffers = *workspace.buffers_;
    auto* const spectrum = buffers.spectrum.get();
    auto* const turned = buffers.turned.get();
    const std::size_t recorded_bins = plans_->bin_factor.size();
    const std::size_t bins = plans_->padded / 2 * plans_->factor + 1;
    for (std::size_t k = 0; k < recorded_bins; ++k) {
        const float real = spectrum[k][0] * plans_->bin_factor[k];
        const float imaginary = spectrum[k][1] * plans_->bin_factor[k];
        spectrum[k][0] = real;
        spectrum[k][1] = imaginary;
        turned[k][0] = imaginary;
        turned[k][1] = -real;
    }
    turned[0][0] = turned[0][1] = 0.0F;
    std::fill(&spectrum[recorded_bins - 1][0] + 2, &spectrum[0][0] + 2 * bins, 0.0F);
    std::fill(&turned[recorded_bins - 1][0] + 2, &turned[0][0] + 2 * bins, 0.0F);
    for (auto* const part : {spectrum, turned}) {
        fftwf_execute_dft_c2r(plans_->inverse.get(), part, buffers.real.get());
        const std::size_t first = part == spectrum ? 0 : to_imaginary;
        std::copy_n(buffers.real.get(), output_samples(), output.begin() + static_cast<std::ptrdiff_t>(first));
    }
}

}  // namespace echoloom
