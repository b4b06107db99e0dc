#include "sim/engine/synthesis.h"

#include <fftw3.h>
#include <omp.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <cstdint>

#include "sim/base/aligned.h"
#include "sim/base/fftw_memory.h"
#include "sim/engine/synthesis_kernels.h"

namespace echoloom {

namespace {

/// Work space of one thread, made once: nothing is allocated where events are computed.
struct SynthesisWorkspace {
    std::vector<std::complex<float>> spectra;  ///< of some pairs, or of one row
    std::vector<float> trace;
    AlignedVector<float> phases;  ///< [element][event abreast] of one chunk
};

/// Events that share most of what fires, and so share reads of echoes.
struct EventGroup {
    std::size_t first = 0;
    std::size_t count = 0;
    std::vector<std::size_t> firing;     ///< elements, ascending
    std::vector<std::size_t> receiving;  ///< elements, ascending
    std::vector<std::uint32_t> pairs;    ///< [receiver][firing]
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
    std::size_t bins = 0;
    std::size_t chunks = 0;
    LargeVector<float> echoes;  ///< [chunk][pair][chunk_values]
    AlignedVector<float> sums;  ///< [event][channel][chunk][chunk_values] of some events
    Plan forward;
    Plan inverse;
    std::vector<SynthesisWorkspace> workspaces;

    SynthesisWorkspace& workspace() { return workspaces[static_cast<std::size_t>(omp_get_thread_num())]; }
    void transform_pairs(std::size_t first, std::size_t count, SynthesisWorkspace& work);
    void sum_group(std::span<const TransmitEvent> events, const EventGroup& group, std::size_t chunk,
                   SynthesisWorkspace& work);
    void finish_row(std::size_t row, std::span<float> samples, SynthesisWorkspace& work) const;
};

namespace {

constexpr std::size_t pairs_together = 16;

}  // namespace

EventSynthesis::EventSynthesis(const PairRecord& record, const Scan& scan, double highest_Hz, int threads)
    : state_(new State{.record = record,
                       .sampling_rate_Hz = scan.sampling_rate_Hz,
                       .event_samples = scan.samples,
                       .threads = threads,
                       .length = transform_length(record.samples),
                       .echoes = {},
                       .sums = {},
                       .forward = nullptr,
                       .inverse = nullptr,
                       .workspaces = {}}) {
    State& s = *state_;
    const double bin_Hz = s.sampling_rate_Hz / static_cast<double>(s.length);
    s.bins = std::min(s.length / 2 + 1, static_cast<std::size_t>(std::ceil(highest_Hz / bin_Hz)) + 1);
    s.chunks = (s.bins + chunk_bins - 1) / chunk_bins;
    const auto length = static_cast<int>(s.length);
    const std::size_t elements = record.pairs.last.size();
    const SynthesisWorkspace empty{std::vector<std::complex<float>>(pairs_together * (s.length / 2 + 1)),
                                   std::vector<float>(s.length),
                                   AlignedVector<float>(elements * events_abreast * chunk_values)};
    s.workspaces.assign(static_cast<std::size_t>(threads), empty);
    float* trace = s.workspaces.front().trace.data();
    fftwf_complex* bins = as_fftw(s.workspaces.front().spectra.data());
    constexpr unsigned flags = FFTW_ESTIMATE | FFTW_UNALIGNED;
    s.forward = Plan(fftwf_plan_dft_r2c_1d(length, trace, bins, flags));
    s.inverse = Plan(fftwf_plan_dft_c2r_1d(length, bins, trace, flags));

    const std::size_t pairs = record.pairs.count();
    s.echoes.resize(s.chunks * pairs * chunk_values);
#pragma omp parallel for schedule(static) num_threads(threads)
    for (std::size_t pair = 0; pair < pairs; pair += pairs_together) {
        s.transform_pairs(pair, std::min(pairs_together, pairs - pair), s.workspace());
    }
}

void EventSynthesis::State::transform_pairs(std::size_t first, std::size_t count, SynthesisWorkspace& work) {
    const std::size_t stride = length / 2 + 1;
    for (std::size_t p = 0; p < count; ++p) {
        const std::span<const float> row = record.row(first + p);
        std::copy(row.begin(), row.end(), work.trace.begin());
        std::fill(work.trace.begin() + static_cast<std::ptrdiff_t>(row.size()), work.trace.end(), 0.0F);
        fftwf_execute_dft_r2c(forward.get(), work.trace.data(), as_fftw(work.spectra.data() + p * stride));
    }
    const float scale = 1.0F / static_cast<float>(length);
    for (std::size_t chunk = 0; chunk < chunks; ++chunk) {
        const std::size_t at = chunk * chunk_bins;
        const std::size_t take = std::min(chunk_bins, bins - at);
        for (std::size_t p = 0; p < count; ++p) {
            const std::complex<float>* from = work.spectra.data() + p * stride + at;
            float* to = echoes.data() + (chunk * record.pairs.count() + first + p) * chunk_values;
            for (std::size_t k = 0; k < take; ++k) {
                to[k] = from[k].real() * scale;
                to[chunk_bins + k] = from[k].imag() * scale;
            }
            std::fill(to + take, to + chunk_bins, 0.0F);
            std::fill(to + chunk_bins + take, to + chunk_values, 0.0F);
        }
    }
}

EventSynthesis::~EventSynthesis() = default;

namespace {

bool has_pair(const PairMap& pairs, std::size_t a, std::size_t b) {
    return std::max(a, b) < pairs.last[std::min(a, b)];
}

EventGroup make_group(std::span<const TransmitEvent> events, std::size_t first, std::size_t count) {
    EventGroup group{.first = first, .count = count, .firing = {}, .receiving = {}, .pairs = {}};
    const auto some = events.subspan(first, count);
    for (std::size_t element = 0; element < events.front().weight.size(); ++element) {
        if (std::any_of(some.begin(), some.end(), [&](const auto& event) { return event.weight[element] != 0.0; })) {
            group.firing.push_back(element);
        }
        const auto receives = [&](const TransmitEvent& event) {
            return std::find(event.receivers.begin(), event.receivers.end(), static_cast<int>(element)) !=
                   event.receivers.end();
        };
        if (std::any_of(some.begin(), some.end(), receives)) {
            group.receiving.push_back(element);
        }
    }
    return group;
}

/// Neighbouring events go together while hardly more fires and receives in all of them than in one.
std::vector<EventGroup> group_events(std::span<const TransmitEvent> events, const PairMap& pairs) {
    constexpr double max_waste = 1.5;
    std::vector<EventGroup> groups;
    for (std::size_t first = 0; first < events.size();) {
        EventGroup group = make_group(events, first, 1);
        const double alone = static_cast<double>(group.firing.size() * group.receiving.size());
        for (std::size_t count = 2; count <= std::min(events_abreast, events.size() - first); ++count) {
            EventGroup larger = make_group(events, first, count);
            if (static_cast<double>(larger.firing.size() * larger.receiving.size()) > max_waste * alone) {
                break;
            }
            group = std::move(larger);
        }
        for (const std::size_t receiver : group.receiving) {
            for (const std::size_t element : group.firing) {
                // Where no event needs a pair its phase is zero, and any echo will do.
                const bool kept = has_pair(pairs, element, receiver);
                group.pairs.push_back(kept ? static_cast<std::uint32_t>(pairs.index(element, receiver)) : 0U);
            }
        }
        first += group.count;
        groups.push_back(std::move(group));
    }
    return groups;
}

}  // namespace

std::size_t EventSynthesis::events_together() const {
    constexpr std::size_t most = 16;
    constexpr std::size_t max_bytes = std::size_t{32} << 20;
    const std::size_t elements = state_->record.pairs.last.size();
    const std::size_t event_bytes = sizeof(float) * elements * (state_->event_samples + 2 * state_->bins);
    const std::size_t events = std::clamp<std::size_t>(max_bytes / event_bytes, 1, most);
    return events > events_abreast ? events / events_abreast * events_abreast : events;
}

/// One chunk of bins of all channels of a group's events.
void EventSynthesis::State::sum_group(std::span<const TransmitEvent> events, const EventGroup& group, std::size_t chunk,
                                      SynthesisWorkspace& work) {
    const std::size_t channels = events.front().receivers.size();
    std::fill_n(work.phases.begin(), group.firing.size() * events_abreast * chunk_values, 0.0F);
    for (std::size_t n = 0; n < group.firing.size(); ++n) {
        for (std::size_t i = 0; i < group.count; ++i) {
            const TransmitEvent& event = events[group.first + i];
            const std::size_t element = group.firing[n];
            if (event.weight[element] != 0.0) {
                // Sample 0 of the event comes out at sample 0 of the inverse transform.
                const double delay = (event.delay_s[element] - event.start_time_s) * sampling_rate_Hz +
                                     static_cast<double>(record.first_sample);
                fill_phases(delay / static_cast<double>(length), event.weight[element], chunk * chunk_bins,
                            work.phases.data() + (n * events_abreast + i) * chunk_values);
            }
        }
    }
    alignas(64) std::array<float, events_abreast * chunk_values> out;
    for (std::size_t l = 0; l < group.receiving.size(); ++l) {
        sum_chunk({.spectra = echoes.data() + chunk * record.pairs.count() * chunk_values,
                   .pair = group.pairs.data() + l * group.firing.size(),
                   .phases = work.phases.data(),
                   .count = group.firing.size(),
                   .out = out.data()});
        for (std::size_t i = 0; i < group.count; ++i) {
            const std::vector<int>& receivers = events[group.first + i].receivers;
            const auto found = std::find(receivers.begin(), receivers.end(), static_cast<int>(group.receiving[l]));
            if (found != receivers.end()) {
                const std::size_t row =
                    (group.first + i) * channels + static_cast<std::size_t>(found - receivers.begin());
                std::copy_n(out.begin() + static_cast<std::ptrdiff_t>(i * chunk_values), chunk_values,
                            sums.begin() + static_cast<std::ptrdiff_t>((row * chunks + chunk) * chunk_values));
            }
        }
    }
}

void EventSynthesis::State::finish_row(std::size_t row, std::span<float> samples, SynthesisWorkspace& work) const {
    for (std::size_t k = 0; k < bins; ++k) {
        const float* from = sums.data() + (row * chunks + k / chunk_bins) * chunk_values + k % chunk_bins;
        work.spectra[k] = {from[0], from[chunk_bins]};
    }
    std::fill(work.spectra.begin() + static_cast<std::ptrdiff_t>(bins),
              work.spectra.begin() + static_cast<std::ptrdiff_t>(length / 2 + 1), std::complex<float>());
    fftwf_execute_dft_c2r(inverse.get(), as_fftw(work.spectra.data()), work.trace.data());
    std::copy_n(work.trace.begin(), event_samples, samples.begin() + static_cast<std::ptrdiff_t>(row * event_samples));
}

void EventSynthesis::events(std::span<const TransmitEvent> events, std::span<float> samples) {
    State& s = *state_;
    const std::size_t rows = events.size() * events.front().receivers.size();
    const std::vector<EventGroup> groups = group_events(events, s.record.pairs);
    s.sums.resize(std::max(s.sums.size(), rows * s.chunks * chunk_values));
#pragma omp parallel num_threads(s.threads)
    {
        SynthesisWorkspace& work = s.workspace();
#pragma omp for schedule(dynamic)
        for (std::size_t chunk = 0; chunk < s.chunks; ++chunk) {
            for (const EventGroup& group : groups) {
                s.sum_group(events, group, chunk, work);
            }
        }
#pragma omp for schedule(static)
        for (std::size_t row = 0; row < rows; ++row) {
            s.finish_row(row, samples, work);
        }
    }
}

double EventSynthesis::memory_bytes(std::size_t pairs, std::size_t samples, double band_fraction) {
    const auto bins =
        static_cast<double>(transform_length(samples) / 2 + 1) * std::min(1.0, band_fraction) + chunk_bins;
    return 2.0 * sizeof(float) * static_cast<double>(pairs) * bins;
}

}  // namespace echoloom
