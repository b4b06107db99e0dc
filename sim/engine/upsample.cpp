#include "sim/engine/upsample.h"

#include <fftw3.h>
#include <omp.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <memory>

#include "sim/base/aligned.h"
#include "sim/base/fftw_memory.h"
#include "sim/engine/synthesis.h"

namespace echoloom {

namespace {

/// Work space of one thread.
struct Workspace {
    AlignedVector<float> low, high;
    AlignedVector<std::complex<float>> low_spectrum, high_spectrum;

    Workspace(std::size_t length, std::size_t factor)
        : low(length), high(length * factor), low_spectrum(length / 2 + 1), high_spectrum(length * factor / 2 + 1) {}
};

/// Samples behind each row, so that its end does not reach its start.
constexpr std::size_t padding = 64;

std::int64_t floor_quotient(std::int64_t value, std::int64_t by) {
    return value >= 0 ? value / by : -((-value + by - 1) / by);
}

}  // namespace

int decimation_for(double highest_Hz, double sampling_rate_Hz) {
    return std::clamp(static_cast<int>(sampling_rate_Hz / (2.2 * highest_Hz)), 1, 16);
}

PairRecord decimated_layout(const PairRecord& record, int decimation, int room) {
    PairRecord low;
    low.pairs = record.pairs;
    low.wanted = {floor_quotient(record.wanted.first, decimation), floor_quotient(record.wanted.last, decimation) + 1};
    low.first_sample = low.wanted.first - room;
    low.samples = static_cast<std::size_t>(low.wanted.last + room - low.first_sample + 1);
    return low;
}

void add_upsampled(const PairRecord& low, int decimation, int threads, PairRecord& record) {
    const auto factor = static_cast<std::size_t>(decimation);
    const std::size_t length = transform_length(low.samples + padding);
    std::vector<Workspace> workspaces(static_cast<std::size_t>(threads), Workspace(length, factor));
    Workspace& any = workspaces.front();
    const Plan forward(fftwf_plan_dft_r2c_1d(static_cast<int>(length), any.low.data(), as_fftw(any.low_spectrum.data()),
                                             FFTW_ESTIMATE));
    const Plan inverse(fftwf_plan_dft_c2r_1d(static_cast<int>(length * factor), as_fftw(any.high_spectrum.data()),
                                             any.high.data(), FFTW_ESTIMATE));
    const float scale = 1.0F / static_cast<float>(length);
    const std::int64_t start =
        low.first_sample * decimation - record.first_sample;  // of the raised row in the record's
    const std::int64_t first = std::max<std::int64_t>(start, 0);
    const std::int64_t last =
        std::min(start + static_cast<std::int64_t>(low.samples * factor), static_cast<std::int64_t>(record.samples));
#pragma omp parallel for schedule(static) num_threads(threads)
    for (std::size_t pair = 0; pair < record.pairs.count(); ++pair) {
        Workspace& work = workspaces[static_cast<std::size_t>(omp_get_thread_num())];
        const std::span<const float> from = low.row(pair);
        std::copy(from.begin(), from.end(), work.low.begin());
        std::fill(work.low.begin() + static_cast<std::ptrdiff_t>(from.size()), work.low.end(), 0.0F);
        fftwf_execute_dft_r2c(forward.get(), work.low.data(), as_fftw(work.low_spectrum.data()));
        // Half the lower rate itself has nothing to give: the rate leaves a tenth to spare.
        for (std::size_t k = 0; k < length / 2; ++k) {
            work.high_spectrum[k] = scale * work.low_spectrum[k];
        }
        std::fill(work.high_spectrum.begin() + static_cast<std::ptrdiff_t>(length / 2), work.high_spectrum.end(), 0.0F);
        fftwf_execute_dft_c2r(inverse.get(), as_fftw(work.high_spectrum.data()), work.high.data());
        float* const to = record.row(pair).data();
        for (std::int64_t i = first; i < last; ++i) {
            to[i] += work.high[static_cast<std::size_t>(i - start)];
        }
    }
}

}  // namespace echoloom
