#include "recon/beamform/fft.h"

#include <algorithm>
#include <vector>

#include "recon/beamform/trace_padding.h"
#include "sim/base/fftw_memory.h"

namespace echoloom {
namespace {

/// The bin at half the recorded rate belongs half to positive and half to negative frequencies. Once the rate is
/// raised, and for an analytic signal always, the halves have separate places.
std::vector<float> bin_factors(std::size_t padded, int factor, TraceTransform::Output output,
                               const HighPass& high_pass) {
    const bool real = output != TraceTransform::Output::analytic;  // made of real transforms
    const std::size_t half = padded / 2;
    const float scale = 1.0F / static_cast<float>(padded);
    const float inner = real ? scale : 2.0F * scale;
    const float nyquist = real && factor > 1 ? 0.5F * scale : scale;
    std::vector<float> factors(half + 1);
    for (std::size_t k = 0; k <= half; ++k) {
        const double gain = high_pass.gain(static_cast<double>(k) / static_cast<double>(padded));
        factors[k] = (k == 0 ? scale : k == half ? nyquist : inner) * static_cast<float>(gain);
    }
    return factors;
}

}  // namespace

struct TraceTransform::Workspace::Buffers {
    FloatBuffer input;       ///< [padded]
    ComplexBuffer spectrum;  ///< room for the spectrum of the output
    ComplexBuffer turned;    ///< the same a quarter turn later, where parts come out apart
    FloatBuffer real;        ///< output of a real transform
    ComplexBuffer analytic;  ///< output of an analytic one
};

struct TraceTransform::Plans {
    TracePadding padding;
    std::size_t factor;
    Output output;
    std::vector<float> bin_factor;  ///< [padded / 2 + 1] scale, halves of the spectrum and high-pass in one
    Plan forward;
    Plan inverse;
};

TraceTransform::Workspace::Workspace(const TraceTransform& transform) : buffers_(std::make_unique<Buffers>()) {
    const Plans& plans = *transform.plans_;
    const std::size_t length = plans.padding.length() * plans.factor;
    buffers_->input = floats(plans.padding.length());
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
                               const HighPass& high_pass)
    : plans_(new Plans{.padding = TracePadding(samples, padding, high_pass),
                       .factor = static_cast<std::size_t>(factor),
                       .output = output,
                       .bin_factor = {},
                       .forward = nullptr,
                       .inverse = nullptr}) {
    plans_->bin_factor = bin_factors(plans_->padding.length(), factor, output, high_pass);
    const Workspace workspace(*this);
    const auto& buffers = *workspace.buffers_;
    const auto padded = static_cast<int>(plans_->padding.length());
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
    return plans_->padding.length();
}

std::size_t TraceTransform::output_samples() const {
    return plans_->padding.samples() * plans_->factor;
}

void TraceTransform::run(std::span<const float> trace, std::span<float> output, Workspace& workspace,
                         std::size_t to_imaginary) const {
    auto& buffers = *workspace.buffers_;
    plans_->padding.fill(trace, buffers.input.get());
    fftwf_execute_dft_r2c(plans_->forward.get(), buffers.input.get(), buffers.spectrum.get());
    if (plans_->output == Output::apart) {
        run_apart(output, to_imaginary, workspace);
        return;
    }

    const std::size_t recorded_bins = plans_->bin_factor.size();
    const bool real = plans_->output == Output::real;
    const std::size_t bins =
        real ? plans_->padding.length() / 2 * plans_->factor + 1 : plans_->padding.length() * plans_->factor;
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
    const std::size_t bins = plans_->padding.length() / 2 * plans_->factor + 1;
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
