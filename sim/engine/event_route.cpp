#include "sim/engine/event_route.h"

#include <omp.h>

#include <algorithm>
#include <cmath>

#include "sim/base/parallel.h"
#include "sim/engine/event_kernels.h"
#include "sim/engine/real_transforms.h"
#include "sim/engine/response.h"

namespace echoloom {

namespace {

constexpr std::size_t part = 16;  ///< scatterers whose responses are kept together

/// When each firing element's wave passes a cell, in samples of the event.
double arrival(const EngineContext& context, const WindowPlan& plan, const TransmitEvent& event, std::size_t e) {
    return plan.reference[e] + (event.delay_s[e] - event.start_time_s) * context.sampling_rate_Hz;
}

/// The whole sample before the first of them, and how long after it the last one comes.
struct Passage {
    std::int64_t first = 0;
    double duration = 0.0;
};

Passage passage(const EngineContext& context, const WindowPlan& plan, const TransmitEvent& event) {
    double first = std::numeric_limits<double>::infinity();
    double last = -first;
    for (std::size_t e = 0; e < context.elements.count; ++e) {
        if (event.weight[e] != 0.0) {
            first = std::min(first, arrival(context, plan, event, e));
            last = std::max(last, arrival(context, plan, event, e));
        }
    }
    const double whole = std::floor(first);
    return {static_cast<std::int64_t>(whole), last - whole};
}

struct PlannedCell {
    std::span<const Scatterer> scatterers;
    WindowPlan plan;
    ElementFactors factors;
};

struct Unit {
    const PlannedCell* cell = nullptr;
    std::span<const Scatterer> scatterers;
    bool first = false;
    bool last = false;
};

/// Work space of one thread.
struct EventScratch {
    AlignedVector<float> phase_real, phase_imaginary;  ///< [bin][element]
    AlignedVector<float> sum_real, sum_imaginary;
    std::vector<double> late_s;
    std::vector<float> weight;
    AlignedVector<float> spectra, traces;
    std::vector<std::complex<float>> pulse;
};

/// One event against the cells in turn.
class EventRun {
  public:
    EventRun(const EngineContext& context, const Scan& scan, const TransmitEvent& event,
             const RealTransforms& transforms, EventScratch& scratch, std::span<float> samples)
        : context_(context), scan_(scan), event_(event), transforms_(transforms), scratch_(scratch), samples_(samples) {
        const auto [low, high] = std::minmax_element(event.receivers.begin(), event.receivers.end());
        receive_first_ = static_cast<std::size_t>(*low) / element_group * element_group;
        receive_last_ = (static_cast<std::size_t>(*high) / element_group + 1) * element_group;
        const auto fires = [](double weight) { return weight != 0.0; };
        const auto first = std::find_if(event.weight.begin(), event.weight.end(), fires) - event.weight.begin();
        const auto past = event.weight.rend() - std::find_if(event.weight.rbegin(), event.weight.rend(), fires);
        fire_first_ = static_cast<std::size_t>(first) / element_group * element_group;
        fire_last_ = (static_cast<std::size_t>(past) + element_group - 1) / element_group * element_group;
    }

    void add(const Unit& unit, const ResponseGrid& responses) {
        if (unit.first) {
            begin_cell(*unit.cell);
        }
        add_event_sums({&responses, &phases_, receive_first_, receive_last_, unit.first, scratch_.sum_real.data(),
                        scratch_.sum_imaginary.data()});
        if (unit.last) {
            end_cell(*unit.cell);
        }
    }

  private:
    void begin_cell(const PlannedCell& cell) {
        const WindowPlan& plan = cell.plan;
        const std::size_t padded = context_.elements.padded;
        const std::size_t size = static_cast<std::size_t>(plan.bins) * padded;
        for (AlignedVector<float>* each :
             {&scratch_.phase_real, &scratch_.phase_imaginary, &scratch_.sum_real, &scratch_.sum_imaginary}) {
            each->resize(std::max(each->size(), size));
        }
        scratch_.late_s.assign(padded, 0.0);
        scratch_.weight.assign(padded, 0.0F);
        passage_ = passage(context_, plan, event_);
        for (std::size_t e = 0; e < context_.elements.count; ++e) {
            if (event_.weight[e] != 0.0) {
                scratch_.late_s[e] = (arrival(context_, plan, event_, e) - static_cast<double>(passage_.first)) /
                                     context_.sampling_rate_Hz;
                scratch_.weight[e] = static_cast<float>(event_.weight[e] * context_.fault_gain[e]);
            }
        }
        phases_ = {.factor_real = cell.factors.real.data(),
                   .factor_imaginary = cell.factors.imaginary.data(),
                   .late_s = scratch_.late_s.data(),
                   .weight = scratch_.weight.data(),
                   .first = fire_first_,
                   .last = fire_last_,
                   .padded = padded,
                   .first_Hz = plan.first_bin * plan.bin_Hz,
                   .step_Hz = plan.bin_Hz,
                   .bins = static_cast<std::size_t>(plan.bins),
                   .real = scratch_.phase_real.data(),
                   .imaginary = scratch_.phase_imaginary.data()};
        fill_firing_phases(phases_);
    }

    /// From sums to traces, some receivers at a time.
    void end_cell(const PlannedCell& cell) {
        const auto length = static_cast<std::size_t>(cell.plan.length);
        const std::size_t stride = length / 2 + 1;
        scratch_.spectra.resize(2 * stride * RealTransforms::batch);
        scratch_.traces.resize(length * RealTransforms::batch);
        const std::size_t channels = event_.receivers.size();
        for (std::size_t c = 0; c < channels; c += RealTransforms::batch) {
            const std::size_t count = std::min(RealTransforms::batch, channels - c);
            std::fill(scratch_.spectra.begin(), scratch_.spectra.end(), 0.0F);
            for (std::size_t n = 0; n < count; ++n) {
                fill_spectrum(
                    cell, static_cast<std::size_t>(event_.receivers[c + n]),
                    scratch_.spectra.data() + 2 * (n * stride + static_cast<std::size_t>(cell.plan.first_bin)));
            }
            transforms_.inverse(cell.plan.length, scratch_.spectra.data(), scratch_.traces.data());
            for (std::size_t n = 0; n < count; ++n) {
                add_trace(cell.plan, c + n, scratch_.traces.data() + n * length);
            }
        }
    }

    void fill_spectrum(const PlannedCell& cell, std::size_t r, float* to) const {
        const auto gain = static_cast<float>(context_.fault_gain[r]);
        for (std::size_t k = 0; k < static_cast<std::size_t>(cell.plan.bins); ++k) {
            const std::size_t at = k * context_.elements.padded + r;
            const std::complex<float> pulse = cell.factors.pulse[k];
            const float fr = cell.factors.real[at] * gain;
            const float fi = cell.factors.imaginary[at] * gain;
            const float pr = pulse.real() * fr - pulse.imag() * fi;
            const float pi = pulse.real() * fi + pulse.imag() * fr;
            to[2 * k] = pr * scratch_.sum_real[at] - pi * scratch_.sum_imaginary[at];
            to[2 * k + 1] = pr * scratch_.sum_imaginary[at] + pi * scratch_.sum_real[at];
        }
    }

    void add_trace(const WindowPlan& plan, std::size_t channel, const float* trace) {
        const auto r = static_cast<std::size_t>(event_.receivers[channel]);
        const std::int64_t start = passage_.first + plan.reference[r] - plan.before;
        const auto samples = static_cast<std::int64_t>(scan_.samples);
        const std::int64_t from = std::max<std::int64_t>(start, 0);
        const std::int64_t to = std::min(start + plan.length, samples);
        float* row = samples_.data() + channel * scan_.samples;
        for (std::int64_t i = from; i < to; ++i) {
            row[i] += trace[i - start];
        }
    }

    const EngineContext& context_;
    const Scan& scan_;
    const TransmitEvent& event_;
    const RealTransforms& transforms_;
    EventScratch& scratch_;
    std::span<float> samples_;
    std::size_t receive_first_ = 0;
    std::size_t receive_last_ = 0;
    std::size_t fire_first_ = 0;
    std::size_t fire_last_ = 0;
    Passage passage_;
    FiringPhases phases_{};
};

std::vector<Unit> units_of(std::span<const PlannedCell> cells) {
    std::vector<Unit> units;
    for (const PlannedCell& cell : cells) {
        for (std::size_t at = 0; at < cell.scatterers.size(); at += part) {
            const std::size_t take = std::min(part, cell.scatterers.size() - at);
            units.push_back({&cell, cell.scatterers.subspan(at, take), at == 0, at + take == cell.scatterers.size()});
        }
    }
    return units;
}

}  // namespace

WindowPlan plan_event_window(const EngineContext& context, const Scan& scan, std::span<const Scatterer> cell) {
    WindowPlan plan = plan_window(context, cell);
    double longest = 0.0;
    for (const TransmitEvent& event : scan.events) {
        longest = std::max(longest, passage(context, plan, event).duration);
    }
    widen(context, static_cast<int>(std::ceil(longest)), plan);
    return plan;
}

void add_events(const Phantom& phantom, const EngineContext& context, const CellGrid& grid, const FullMatrixWork& work,
                const Scan& scan, std::span<const TransmitEvent> events, std::span<float> samples) {
    const CellBlock block = collect_cells(phantom, grid, 0, grid.stacks() - 1, phantom.candidate_count());
    std::vector<PlannedCell> cells(block.cells.size());
    FirstFailure failure;
#pragma omp parallel for schedule(dynamic) num_threads(work.threads)
    for (std::size_t i = 0; i < cells.size(); ++i) {
        failure.run([&] {
            cells[i].scatterers = std::span(block.scatterers).subspan(block.cells[i].first, block.cells[i].count);
            cells[i].plan = plan_event_window(context, scan, cells[i].scatterers);
            cells[i].factors = element_factors(context, cells[i].plan);
        });
    }
    failure.rethrow();
    RealTransforms transforms;
    for (const PlannedCell& cell : cells) {
        transforms.prepare(cell.plan.length);
    }
    const std::vector<Unit> units = units_of(cells);
    const std::size_t event_samples = scan.channels() * scan.samples;
    std::vector<EventScratch> scratch(static_cast<std::size_t>(work.threads));
    std::vector<ResponseGrid> responses;
    for (std::size_t begin = 0; begin < units.size();) {
        std::size_t end = begin;
        std::size_t bytes = 0;
        const auto unit_bytes = [&](const Unit& unit) {
            return 2 * sizeof(float) * static_cast<std::size_t>(unit.cell->plan.bins) * unit.scatterers.size() *
                   context.elements.padded;
        };
        // Whole cells: their sums are one thread's from first to last.
        while (end < units.size() && (end == begin || !units[end - 1].last || bytes < work.responses_bytes)) {
            bytes += unit_bytes(units[end++]);
        }
        responses.resize(std::max(responses.size(), end - begin));
#pragma omp parallel for schedule(dynamic) num_threads(work.threads)
        for (std::size_t i = begin; i < end; ++i) {
            failure.run([&] {
                compute_responses(context, context.elements, units[i].cell->plan, units[i].scatterers,
                                  responses[i - begin]);
            });
        }
        failure.rethrow();
#pragma omp parallel for schedule(dynamic) num_threads(work.threads)
        for (std::size_t v = 0; v < events.size(); ++v) {
            failure.run([&] {
                EventRun run(context, scan, events[v], transforms,
                             scratch[static_cast<std::size_t>(omp_get_thread_num())],
                             samples.subspan(v * event_samples, event_samples));
                for (std::size_t i = begin; i < end; ++i) {
                    run.add(units[i], responses[i - begin]);
                }
            });
        }
        failure.rethrow();
        begin = end;
    }
}

}  // namespace echoloom
