#include "recon/beamform/fft.h"

#include <fftw3.h>

#include <algorithm>
#include <new>

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
    FloatBuffer real;        ///< output of a real transform
    ComplexBuffer analytic;  ///< output of an analytic one
};

struct TraceTransform::Plans {
    std::size_t samples;
    std::size_t padded;
    std::size_t factor;
    Output output;
    Plan forward;
    Plan inverse;
};

TraceTransform::Workspace::Workspace(const TraceTransform& transform) : buffers_(std::make_unique<Buffers>()) {
    const Plans& plans = *transform.plans_;
    const std::size_t length = plans.padded * plans.factor;
    buffers_->input = floats(plans.padded);
    if (plans.output == Output::real) {
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

TraceTransform::TraceTransform(std::size_t samples, int factor, Output output, std::size_t padding)
    : plans_(std::make_unique<Plans>()) {
    plans_->samples = samples;
    plans_->padded = smooth_length(samples + padding);
    plans_->factor = static_cast<std::size_t>(factor);
    plans_->output = output;
    const Workspace workspace(*this);
    const auto& buffers = *workspace.buffers_;
    const auto padded = static_cast<int>(plans_->padded);
    plans_->forward.reset(fftwf_plan_dft_r2c_1d(padded, buffers.input.get(), buffers.spectrum.get(), FFTW_ESTIMATE));
    if (output == Output::real) {
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

void TraceTransform::run(std::span<const float> trace, std::span<float> output, Workspace& workspace) const {
    auto& buffers = *workspace.buffers_;
    float* const end_of_trace = std::ranges::copy(trace, buffers.input.get()).out;
    std::fill(end_of_trace, buffers.input.get() + plans_->padded, 0.0F);
    fftwf_execute_dft_r2c(plans_->forward.get(), buffers.input.get(), buffers.spectrum.get());

    // The bin at half the recorded rate belongs half to positive and half to negative frequencies. Once the rate is
    // raised, and for an analytic signal always, the halves have separate places.
    const std::size_t half = plans_->padded / 2;
    const bool real = plans_->output == Output::real;
    const std::size_t bins = real ? half * plans_->factor + 1 : plans_->padded * plans_->factor;
    const float scale = 1.0F / static_cast<float>(plans_->padded);
    const float inner = real ? scale : 2.0F * scale;
    const float nyquist = real && plans_->factor > 1 ? 0.5F * scale : scale;
    auto* const spectrum = buffers.spectrum.get();
    for (std::size_t k = 0; k <= half; ++k) {
        const float factor = k == 0 ? scale : k == half ? nyquist : inner;
        spectrum[k][0] *= factor;
        spectrum[k][1] *= factor;
    }
    std::fill(&spectrum[half + 1][0], &spectrum[0][0] + 2 * bins, 0.0F);

    if (real) {
        fftwf_execute_dft_c2r(plans_->inverse.get(), spectrum, buffers.real.get());
        std::copy_n(buffers.real.get(), output_samples(), output.begin());
    } else {
        fftwf_execute_dft(plans_->inverse.get(), spectrum, buffers.analytic.get());
        std::copy_n(&buffers.analytic[0][0], 2 * output_samples(), output.begin());
    }
}

}  // namespace echoloom
