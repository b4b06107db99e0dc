#include "sim/engine/echo_traces.h"

#include <algorithm>
#include <complex>
#include <map>
#include <memory>

#include "sim/base/fftw_memory.h"
#include "sim/engine/trace_kernels.h"

namespace echoloom {

namespace {

fftwf_complex* as_fftw(float* pointer) {
    return reinterpret_cast<fftwf_complex*>(pointer);
}

}  // namespace

struct WindowTransforms::Plans {
    std::map<int, Plan> by_length;
};

WindowTransforms::WindowTransforms() : plans_(std::make_unique<Plans>()) {}
WindowTransforms::~WindowTransforms() = default;

std::size_t WindowTransforms::distance(int length) {
    constexpr std::size_t line = 8;  // complex values of a cache line
    return (static_cast<std::size_t>(length) + line - 1) / line * line;
}

// Two real echoes travel through one complex transform: FFTW's complex transforms of such lengths take a third of the
// time of as many real ones.
void WindowTransforms::prepare(int length) {
    if (plans_->by_length.contains(length)) {
        return;
    }
    const auto step = static_cast<int>(distance(length));
    AlignedVector<float> in(2 * batch * distance(length));
    AlignedVector<float> out(in.size());
    plans_->by_length[length] =
        Plan(fftwf_plan_many_dft(1, &length, static_cast<int>(batch), as_fftw(in.data()), nullptr, 1, step,
                                 as_fftw(out.data()), nullptr, 1, step, FFTW_BACKWARD, FFTW_ESTIMATE));
}

void WindowTransforms::inverse(int length, float* spectra, float* traces) const {
    fftwf_execute_dft(plans_->by_length.at(length).get(), as_fftw(spectra), as_fftw(traces));
}

namespace {

/// A cell's traces on their way into one strip's rows.
class StripTraces {
  public:
    StripTraces(const EngineContext& context, const WindowPlan& plan, const ElementFactors& factors,
                const StripSums& strip, const WindowTransforms& transforms, TraceScratch& scratch, PairRecord& record)
        : context_(context),
          plan_(plan),
          factors_(factors),
          strip_(strip),
          transforms_(transforms),
          scratch_(scratch),
          record_(record) {
        if (scratch_.length != plan.length || scratch_.first_bin != plan.first_bin || scratch_.bins != plan.bins) {
            scratch_.spectra.assign(2 * WindowTransforms::batch * WindowTransforms::distance(plan.length), 0.0F);
            scratch_.traces.resize(std::max(scratch_.traces.size(), scratch_.spectra.size()));
            scratch_.length = plan.length;
            scratch_.first_bin = plan.first_bin;
            scratch_.bins = plan.bins;
        }
    }

    void run() {
        const std::size_t rows = std::min(strip_rows, context_.elements.count - strip_.first_row);
        for (std::size_t r = 0; r < rows; r += 2) {
            const std::size_t i = strip_.first_row + r;
            const std::size_t count = std::min<std::size_t>(2, rows - r);
            std::size_t last = 0;
            for (std::size_t n = 0; n < count; ++n) {
                last = std::max(last, record_.pairs.last[i + n]);
            }
            const std::size_t end = strip_.first_column + strip_.width;
            for (std::size_t j0 = std::max(i, strip_.first_column); j0 < std::min(last, end);
                 j0 += WindowTransforms::batch) {
                run_columns(r, count, std::min(j0, end - WindowTransforms::batch), j0);
            }
        }
    }

  private:
    /// Columns column to column + 15 of `count` rows from r on, of which those before `begin` are done.
    void run_columns(std::size_t r, std::size_t count, std::size_t column, std::size_t begin) {
        const std::size_t i = strip_.first_row + r;
        RowPair pair{};
        for (std::size_t n = 0; n < count; ++n) {
            const std::size_t at = strip_.at(0, r + n) + column - strip_.first_column;
            pair.real[n] = strip_.real.data() + at;
            pair.imaginary[n] = strip_.imaginary.data() + at;
            pair.row_factor[n] = factors_.row.data() + (i + n) * factors_.pulse.size();
            const std::size_t from = std::max(begin, i + n);
            const std::size_t to = std::min(record_.pairs.last[i + n], column + WindowTransforms::batch);
            pair.begin[n] = from - column;
            pair.end[n] = to > column ? to - column : 0;
        }
        pair.bin_step = strip_rows * strip_.width;
        pair.column_real = factors_.real.data() + column;
        pair.column_imaginary = factors_.imaginary.data() + column;
        pair.column_step = context_.elements.padded;
        pair.first_bin = static_cast<std::size_t>(plan_.first_bin);
        pair.bins = static_cast<std::size_t>(plan_.bins);
        pair.length = static_cast<std::size_t>(plan_.length);
        pair.distance = WindowTransforms::distance(plan_.length);
        pair.spectra = scratch_.spectra.data();
        for (std::size_t n = 0; n < count; ++n) {
            for (std::size_t p = pair.begin[n]; p < pair.end[n]; ++p) {
                prefetch_row(i + n, column + p);
            }
        }
        fill_spectra(pair);
        transforms_.inverse(plan_.length, scratch_.spectra.data(), scratch_.traces.data());
        for (std::size_t n = 0; n < count; ++n) {
            for (std::size_t p = pair.begin[n]; p < pair.end[n]; ++p) {
                add_trace(i + n, column + p, n == 1, scratch_.traces.data() + 2 * p * pair.distance);
            }
        }
    }

    /// Where a trace meets its pair's row, in samples of the row; empty where it is not wanted or would be cut in its
    /// core: only the slow tails about the echo itself may be.
    struct Meeting {
        std::int64_t start = 0;  ///< of the trace
        std::int64_t from = 0;
        std::int64_t to = 0;
    };
    Meeting meeting(std::size_t i, std::size_t j) const {
        const std::int64_t reference = plan_.reference[i] + plan_.reference[j] - record_.first_sample;
        const std::int64_t start = reference - plan_.before;
        const std::int64_t end = start + plan_.length;
        const auto samples = static_cast<std::int64_t>(record_.samples);
        const bool wanted =
            start <= record_.wanted.last - record_.first_sample && end > record_.wanted.first - record_.first_sample;
        if (!wanted || reference < plan_.core_before || reference + plan_.core_after > samples) {
            return {};
        }
        return {start, std::max<std::int64_t>(start, 0), std::min(end, samples)};
    }

    /// Rows are far apart in memory: they are asked for while the spectra are transformed.
    void prefetch_row(std::size_t i, std::size_t j) {
        const Meeting at = meeting(i, j);
        prefetch(record_.row(record_.pairs.index(i, j)).data() + at.from, static_cast<std::size_t>(at.to - at.from));
    }

    /// Gains come last, so that a dead element is silent though it shares a transform.
    void add_trace(std::size_t i, std::size_t j, bool imaginary, const float* trace) {
        const auto gain = static_cast<float>(context_.fault_gain[i] * context_.fault_gain[j]);
        const Meeting at = meeting(i, j);
        if (gain == 0.0F || at.from == at.to) {
            return;
        }
        add_part(trace + 2 * (at.from - at.start), imaginary, gain, static_cast<std::size_t>(at.to - at.from),
                 record_.row(record_.pairs.index(i, j)).data() + at.from);
    }

    const EngineContext& context_;
    const WindowPlan& plan_;
    const ElementFactors& factors_;
    const StripSums& strip_;
    const WindowTransforms& transforms_;
    TraceScratch& scratch_;
    PairRecord& record_;
};

}  // namespace

void add_traces(const EngineContext& context, const WindowPlan& plan, const ElementFactors& factors,
                const StripSums& strip, const WindowTransforms& transforms, TraceScratch& scratch, PairRecord& record) {
    StripTraces(context, plan, factors, strip, transforms, scratch, record).run();
}

}  // namespace echoloom
