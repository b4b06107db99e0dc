#include "sim/engine/synthesis.h"

#include <fftw3.h>
#include <omp.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>
#include <type_traits>

#include "sim/engine/spectrum_sum.h"

namespace echoloom {

namespace {

struct PlanDeleter {
    void operator()(fftwf_plan plan) const { fftwf_destroy_plan(plan); }
};
using Plan = std::unique_ptr<std::remove_pointer_t<fftwf_plan>, PlanDeleter>;

fftwf_complex* as_fftw(std::complex<float>* pointer) {
    return reinterpret_cast<fftwf_complex*>(pointer);
}

/// Work space of one thread, made once: nothing is allocated where events are computed.
struct SynthesisWorkspace {
    std::vector<float> real;
    std::vector<float> imaginary;
    std::vector<std::complex<float>> spectrum;
    std::vector<float> trace;
};

}  // namespace

std::size_t transform_length(std::size_t samples) {
    // Products of 2, 3 and 5: the smallest at or above `samples` that is a multiple of 16.
    for (std::size_t n = (samples + 15) / 16 * 16;; n += 16) {
        std::size_t rest = n;
        for (std::size_t p : {2U, 3U, 5U}) {
            while (rest % p == 0) {
                rest /= p;
            }
        }
        if (rest == 1) {
            return n;
        }
    }
}

struct EventSynthesis::State {
    const PairRecord& record;
    double sampling_rate_Hz;
    std::size_t event_samples;
    int threads;
    std::size_t length;
    std::size_t bins;
    std::vector<float> real;  ///< [pair][bin]
    std::vector<float> imaginary;
    Plan forward;
    Plan inverse;
    std::vector<float> phase_real;  ///< [firing][bin] of some events
    std::vector<float> phase_imaginary;
    std::vector<SynthesisWorkspace> workspaces;

    /// exp(-j 2 pi f delay) weight at every bin, by a double recurrence started afresh every 64 bins.
    void phases(double delay_samples, double weight, float* re, float* im) const {
        const double step = -2.0 * std::numbers::pi * delay_samples / static_cast<double>(length);
        const std::complex<double> turn = std::polar(1.0, step);
        std::complex<double> value;
        for (std::size_t k = 0; k < bins; ++k) {
            if (k % 64 == 0) {
                value = std::polar(weight, step * static_cast<double>(k));
            }
            re[k] = static_cast<float>(value.real());
            im[k] = static_cast<float>(value.imag());
            value = {value.real() * turn.real() - value.imag() * turn.imag(),
                     value.real() * turn.imag() + value.imag() * turn.real()};
        }
    }
};

EventSynthesis::EventSynthesis(const PairRecord& record, const Scan& scan, double highest_Hz, int threads)
    : state_(new State{.record = record,
                       .sampling_rate_Hz = scan.sampling_rate_Hz,
                       .event_samples = scan.samples,
                       .threads = threads,
                       .length = transform_length(record.samples),
                       .bins = 0,
                       .real = {},
                       .imaginary = {},
                       .forward = nullptr,
                       .inverse = nullptr,
                       .phase_real = {},
                       .phase_imaginary = {},
                       .workspaces = {}}) {
    State& s = *state_;
    const double bin_Hz = s.sampling_rate_Hz / static_cast<double>(s.length);
    s.bins = std::min(s.length / 2 + 1, static_cast<std::size_t>(std::ceil(highest_Hz / bin_Hz)) + 1);
    const auto length = static_cast<int>(s.length);
    const SynthesisWorkspace empty{std::vector<float>(s.bins), std::vector<float>(s.bins),
                                   std::vector<std::complex<float>>(s.length / 2 + 1), std::vector<float>(s.length)};
    s.workspaces.assign(static_cast<std::size_t>(threads), empty);
    float* trace = s.workspaces.front().trace.data();
    fftwf_complex* bins = as_fftw(s.workspaces.front().spectrum.data());
    constexpr unsigned flags = FFTW_ESTIMATE | FFTW_UNALIGNED;
    s.forward = Plan(fftwf_plan_dft_r2c_1d(length, trace, bins, flags));
    s.inverse = Plan(fftwf_plan_dft_c2r_1d(length, bins, trace, flags));

    const std::size_t pairs = record.pairs.count();
    s.real.resize(pairs * s.bins);
    s.imaginary.resize(pairs * s.bins);
    const float scale = 1.0F / static_cast<float>(s.length);
#pragma omp parallel for schedule(static) num_threads(threads)
    for (std::size_t pair = 0; pair < pairs; ++pair) {
        SynthesisWorkspace& work = s.workspaces[static_cast<std::size_t>(omp_get_thread_num())];
        const std::span<const float> row = record.row(pair);
        std::copy(row.begin(), row.end(), work.trace.begin());
        std::fill(work.trace.begin() + static_cast<std::ptrdiff_t>(row.size()), work.trace.end(), 0.0F);
        fftwf_execute_dft_r2c(s.forward.get(), work.trace.data(), as_fftw(work.spectrum.data()));
        for (std::size_t k = 0; k < s.bins; ++k) {
            s.real[pair * s.bins + k] = work.spectrum[k].real() * scale;
            s.imaginary[pair * s.bins + k] = work.spectrum[k].imag() * scale;
        }
    }
}

EventSynthesis::~EventSynthesis() = default;

namespace {

/// One element of one event that fires.
struct Firing {
    std::size_t event;
    std::size_t element;
};

/// All that fire, event by event, and where each event's begin; one more entry ends the last.
struct Firings {
    std::vector<Firing> list;
    std::vector<std::size_t> first;
};

Firings firings_of(std::span<const TransmitEvent> events) {
    Firings firings;
    for (std::size_t event = 0; event < events.size(); ++event) {
        firings.first.push_back(firings.list.size());
        for (std::size_t element = 0; element < events[event].weight.size(); ++element) {
            if (events[event].weight[element] != 0.0) {
                firings.list.push_back({event, element});
            }
        }
    }
    firings.first.push_back(firings.list.size());
    return firings;
}

}  // namespace

std::size_t EventSynthesis::events_together() const {
    constexpr std::size_t most = 16;
    constexpr std::size_t most_bytes = std::size_t{32} << 20;
    const std::size_t elements = state_->record.pairs.last.size();
    const std::size_t event_bytes = sizeof(float) * elements * (state_->event_samples + 2 * state_->bins);
    return std::clamp<std::size_t>(most_bytes / event_bytes, 1, most);
}

void EventSynthesis::events(std::span<const TransmitEvent> events, std::span<float> samples) {
    State& s = *state_;
    const double fs = s.sampling_rate_Hz;
    const Firings firings = firings_of(events);
    const std::size_t channels = events.front().listeners.size();
    s.phase_real.resize(std::max(s.phase_real.size(), firings.list.size() * s.bins));
    s.phase_imaginary.resize(s.phase_real.size());
#pragma omp parallel num_threads(s.threads)
    {
#pragma omp for schedule(static)
        for (std::size_t n = 0; n < firings.list.size(); ++n) {
            const TransmitEvent& event = events[firings.list[n].event];
            const std::size_t element = firings.list[n].element;
            // Sample 0 of the event comes out at sample 0 of the inverse transform.
            const double delay =
                event.delay_s[element] * fs - event.start_time_s * fs + static_cast<double>(s.record.first_sample);
            s.phases(delay, event.weight[element], s.phase_real.data() + n * s.bins,
                     s.phase_imaginary.data() + n * s.bins);
        }
        SynthesisWorkspace& work = s.workspaces[static_cast<std::size_t>(omp_get_thread_num())];
#pragma omp for schedule(static)
        for (std::size_t row = 0; row < events.size() * channels; ++row) {
            const std::size_t event = row / channels;
            const auto listener = static_cast<std::size_t>(events[event].listeners[row % channels]);
            std::fill(work.real.begin(), work.real.end(), 0.0F);
            std::fill(work.imaginary.begin(), work.imaginary.end(), 0.0F);
            for (std::size_t n = firings.first[event]; n < firings.first[event + 1]; ++n) {
                const std::size_t pair = s.record.pairs.index(firings.list[n].element, listener);
                const SpectrumView echo{s.real.data() + pair * s.bins, s.imaginary.data() + pair * s.bins};
                const SpectrumView phase{s.phase_real.data() + n * s.bins, s.phase_imaginary.data() + n * s.bins};
                add_product(echo, phase, s.bins, work.real.data(), work.imaginary.data());
            }
            std::fill(work.spectrum.begin(), work.spectrum.end(), std::complex<float>());
            for (std::size_t k = 0; k < s.bins; ++k) {
                work.spectrum[k] = {work.real[k], work.imaginary[k]};
            }
            fftwf_execute_dft_c2r(s.inverse.get(), as_fftw(work.spectrum.data()), work.trace.data());
            std::copy_n(work.trace.begin(), s.event_samples,
                        samples.begin() + static_cast<std::ptrdiff_t>(row * s.event_samples));
        }
    }
}

double EventSynthesis::memory_bytes(std::size_t pairs, std::size_t samples, double band_fraction) {
    const auto bins = static_cast<double>(transform_length(samples) / 2 + 1) * std::min(1.0, band_fraction);
    return 2.0 * sizeof(float) * static_cast<double>(pairs) * bins;
}

}  // namespace echoloom
