#include "sim/engine/echo_traces.h"

#include <fftw3.h>

#include <algorithm>
#include <complex>
#include <map>
#include <memory>
#include <numbers>
#include <type_traits>

namespace echoloom {

namespace {

struct PlanDeleter {
    void operator()(fftwf_plan plan) const { fftwf_destroy_plan(plan); }
};
using Plan = std::unique_ptr<std::remove_pointer_t<fftwf_plan>, PlanDeleter>;

struct FftwFree {
    void operator()(float* pointer) const { fftwf_free(pointer); }
};

}  // namespace

struct WindowTransforms::Plans {
    std::map<int, Plan> by_length;
};

WindowTransforms::WindowTransforms() : plans_(std::make_unique<Plans>()) {}
WindowTransforms::~WindowTransforms() = default;

void WindowTransforms::prepare(int length) {
    if (plans_->by_length.contains(length)) {
        return;
    }
    const int bins = length / 2 + 1;
    // FFTW_ESTIMATE reads no values; FFTW_UNALIGNED lets any work space be used.
    const std::unique_ptr<float, FftwFree> in(fftwf_alloc_real(static_cast<std::size_t>(2 * bins * batch)));
    const std::unique_ptr<float, FftwFree> out(fftwf_alloc_real(static_cast<std::size_t>(length * batch)));
    plans_->by_length[length] =
        Plan(fftwf_plan_many_dft_c2r(1, &length, batch, reinterpret_cast<fftwf_complex*>(in.get()), nullptr, 1, bins,
                                     out.get(), nullptr, 1, length, FFTW_ESTIMATE | FFTW_UNALIGNED));
}

void WindowTransforms::inverse(int length, float* spectra, float* samples) const {
    fftwf_execute_dft_c2r(plans_->by_length.at(length).get(), reinterpret_cast<fftwf_complex*>(spectra), samples);
}

namespace {

/// Adds one trace, whose first sample lies at `start`, to a pair's row where it touches what is wanted. `core` is the
/// part of the trace with the echo itself; only the slow tails about it may be cut.
void add_trace(const PairRecord& record, std::int64_t start, const SampleRange& core, std::span<const float> trace,
               std::span<float> row) {
    const auto end = start + static_cast<std::int64_t>(trace.size());
    const std::int64_t row_end = record.first_sample + static_cast<std::int64_t>(record.samples);
    const bool wanted = start <= record.wanted.last && end > record.wanted.first;
    if (!wanted || core.first < record.first_sample || core.last > row_end) {
        return;
    }
    const std::int64_t from = std::max(start, record.first_sample);
    const std::int64_t to = std::min(end, row_end);
    float* out = row.data() + (from - record.first_sample);
    const float* in = trace.data() + (from - start);
    for (std::int64_t i = 0; i < to - from; ++i) {
        out[i] += in[i];
    }
}

}  // namespace

void add_traces(const EngineContext& context, const WindowPlan& plan, const ElementFactors& factors,
                const StripSums& strip, const WindowTransforms& transforms, TraceScratch& scratch, PairRecord& record) {
    const auto length = static_cast<std::size_t>(plan.length);
    const std::size_t spectrum = length / 2 + 1;
    const auto bins = static_cast<std::size_t>(plan.bins);
    const auto first_bin = static_cast<std::size_t>(plan.first_bin);
    const std::size_t padded = context.elements.padded;
    scratch.spectra.assign(2 * spectrum * WindowTransforms::batch, 0.0F);
    scratch.samples.resize(length * WindowTransforms::batch);
    const std::size_t rows = std::min(strip_rows, context.elements.count - strip.first_row);
    for (std::size_t r = 0; r < rows; ++r) {
        const std::size_t i = strip.first_row + r;
        const std::size_t last = record.pairs.last[i];
        for (std::size_t j0 = i; j0 < last; j0 += WindowTransforms::batch) {
            const std::size_t count = std::min<std::size_t>(WindowTransforms::batch, last - j0);
            std::fill(scratch.spectra.begin(), scratch.spectra.end(), 0.0F);
            for (std::size_t k = 0; k < bins; ++k) {
                const std::size_t at = k * padded;
                const std::complex<float> row_factor =
                    factors.pulse[k] * std::complex<float>(factors.real[at + i], factors.imaginary[at + i]);
                const float fr = row_factor.real();
                const float fi = row_factor.imag();
                const float* re = strip.real.data() + strip.at(k, r) + (j0 - strip.first_row);
                const float* im = strip.imaginary.data() + strip.at(k, r) + (j0 - strip.first_row);
                const float* cr = factors.real.data() + at + j0;
                const float* ci = factors.imaginary.data() + at + j0;
                float* out = scratch.spectra.data() + 2 * (first_bin + k);
                for (std::size_t p = 0; p < count; ++p) {
                    const float pr = fr * cr[p] - fi * ci[p];
                    const float pi = fr * ci[p] + fi * cr[p];
                    out[2 * p * spectrum] = pr * re[p] - pi * im[p];
                    out[2 * p * spectrum + 1] = pr * im[p] + pi * re[p];
                }
            }
            transforms.inverse(plan.length, scratch.spectra.data(), scratch.samples.data());
            for (std::size_t p = 0; p < count; ++p) {
                const std::int64_t reference = plan.reference[i] + plan.reference[j0 + p];
                add_trace(record, reference - plan.before, {reference - plan.core_before, reference + plan.core_after},
                          {scratch.samples.data() + p * length, length}, record.row(record.pairs.index(i, j0 + p)));
            }
        }
    }
}

}  // namespace echoloom
