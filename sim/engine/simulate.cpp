#include "sim/engine/simulate.h"

#include <omp.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/base/progress.h"
#include "sim/base/text.h"
#include "sim/engine/cell_size.h"
#include "sim/engine/event_route.h"
#include "sim/engine/full_matrix.h"
#include "sim/engine/swept.h"
#include "sim/engine/synthesis.h"
#include "sim/engine/upsample.h"

namespace echoloom {

namespace {

/// One part of the pulse and the cells that suit it.
struct Pass {
    EngineContext context;
    /// For the matrix of a part without high frequencies: the same at a rate so many times lower (upsample.h).
    int decimation = 1;
    std::optional<EngineContext> at_lower_rate;
    double cell_size_m = 0.0;
    CellGrid grid;

    const EngineContext& of_matrix() const { return at_lower_rate ? *at_lower_rate : context; }
    /// Samples of its longest window in the matrix, at the rate of that.
    int longest_window() const { return echoloom::longest_window(of_matrix(), cell_size_m); }
};

/// Everything sized before the work begins.
struct Run {
    std::vector<Pass> passes;
    PairRecord record;  ///< its data not yet allocated
    FullMatrixWork work;
    double highest_Hz = 0.0;
    bool plain_rows = false;           ///< events are rows of the matrix as they stand
    std::size_t events_per_block = 0;  ///< direct route: as many as are held together
    Estimate estimate;
};

double longest_path_m(const Phantom& phantom, const Probe& probe) {
    const Box box = phantom.bounds();
    double longest = 0.0;
    for (const Element& element : probe.elements) {
        const Vec3 reach = (box.least - element.center_m).cwiseAbs().cwiseMax((box.most - element.center_m).cwiseAbs());
        longest = std::max(longest, reach.norm() + element.height_m + element.width_m);
    }
    return 2.0 * longest;
}

int longest_window(const std::vector<Pass>& passes) {
    int longest = 0;
    for (const Pass& pass : passes) {
        longest = std::max(longest, pass.longest_window());
    }
    return longest;
}

PairRecord record_layout(const Scan& scan, const std::vector<Pass>& passes) {
    PairRecord record;
    record.pairs = needed_pairs(scan, passes.front().context.elements.count);
    record.wanted = wanted_samples(scan);
    int room = 64;  // delays of a fraction of a sample reach a little beyond
    for (const Pass& pass : passes) {
        room = std::max(room, pass.at_lower_rate ? 0 : pass.longest_window());
    }
    record.first_sample = record.wanted.first - room;
    record.samples = static_cast<std::size_t>(record.wanted.last + room - record.first_sample + 1);
    return record;
}

/// Bytes of everything that is held while the pairs' echoes are added up and while events are made of them.
struct Memory {
    double record = 0.0;
    double lower_rate = 0.0;  ///< the record of a part at a lower rate
    double spectra = 0.0;
    double sorting = 0.0;
    double scatterers = 0.0;
    double strips = 0.0;
    double events = 0.0;
    /// Scatterers are sorted first, then cells come, and what they held is gone when events are made.
    double with_results(double results) const {
        return record + std::max(lower_rate + std::max(sorting, scatterers + strips + results), spectra + events);
    }
    void hold(double count) {
        // While it is sorted each scatterer stands twice, with its cell and its place in the order.
        sorting = count * (2.0 * sizeof(Scatterer) + sizeof(CellGrid::Index) + 8.0);
        scatterers = count * sizeof(Scatterer);
    }
};

/// Most scatterers that one stack of cells can hold: such a stack is never divided.
double fullest_stack(const Phantom& phantom, const std::vector<Pass>& passes) {
    double fullest = 0.0;
    for (const Pass& pass : passes) {
        double held = static_cast<double>(phantom.targets.size());
        for (const SpeckleRegion& region : phantom.regions) {
            const Vec3 size = 2.0 * region.shape.half_size_m;
            held += region.density_per_mm3 * 1e9 * std::min(size.x(), pass.cell_size_m) *
                    std::min(size.z(), pass.cell_size_m) * size.y();
        }
        for (const Sheet& sheet : phantom.sheets) {
            const Vec3 size = sheet.box().most - sheet.box().least;
            const double length_m =
                2.0 * sheet.half_length_m * std::min(1.0, pass.cell_size_m / std::max(size.z(), 1e-9));
            held += sheet.density_per_mm2 * 1e6 * std::min(size.x(), pass.cell_size_m) * length_m;
        }
        fullest = std::max(fullest, 1.05 * held);
    }
    return std::min(fullest, static_cast<double>(phantom.candidate_count()));
}

Memory memory_of_direct(const Run& run, const Phantom& phantom, const Scan& scan) {
    Memory memory;
    memory.hold(static_cast<double>(phantom.candidate_count()));
    memory.events = 4.0 * static_cast<double>(run.events_per_block * scan.samples * scan.channels());
    return memory;
}

Memory memory_needed(const Run& run, const Phantom& phantom, const Scan& scan) {
    const ElementArrays& elements = run.passes.front().context.elements;
    Memory memory;
    const auto pairs = static_cast<double>(run.record.pairs.count());
    memory.record = 4.0 * pairs * static_cast<double>(run.record.samples);
    for (const Pass& pass : run.passes) {
        if (pass.at_lower_rate) {
            const PairRecord low = decimated_layout(run.record, pass.decimation, pass.longest_window());
            memory.lower_rate = std::max(memory.lower_rate, 4.0 * pairs * static_cast<double>(low.samples));
        }
    }
    memory.spectra = run.plain_rows ? 0.0
                                    : EventSynthesis::memory_bytes(run.record.pairs.count(), run.record.samples,
                                                                   2.0 * run.highest_Hz / scan.sampling_rate_Hz);
    const auto held = std::max(static_cast<double>(std::min(phantom.candidate_count(), run.work.scatterers_in_memory)),
                               fullest_stack(phantom, run.passes));
    memory.hold(held);
    const double bins = longest_window(run.passes) / 2.0;
    memory.strips = 8.0 * bins * static_cast<double>(elements.padded * elements.padded) / 2.0;
    // Plans of some cells: interpolations of some groups of nodes, and factors of every bin.
    const double cells = static_cast<double>(std::min(run.work.cells_together(), phantom.candidate_count()));
    memory.strips += 4.0 * cells * static_cast<double>(elements.padded) * (400.0 + 4.0 * bins);
    // Events are made some at a time: EventSynthesis::events_together().
    memory.events = 4.0 * static_cast<double>(scan.samples * scan.channels());
    if (!run.plain_rows) {
        memory.events += 80e6 + 8.0 * static_cast<double>(run.record.samples * elements.count);
    }
    return memory;
}

/// A single element at full weight and no delay on the sampling grid is a row of the matrix as it stands.
bool is_plain_row(const TransmitEvent& event, double sampling_rate_Hz) {
    std::size_t firing = 0;
    for (std::size_t e = 0; e < event.weight.size(); ++e) {
        if (event.weight[e] != 0.0) {
            ++firing;
            if (event.weight[e] != 1.0 || event.delay_s[e] != 0.0) {
                return false;
            }
        }
    }
    const double start = event.start_time_s * sampling_rate_Hz;
    return firing == 1 && start == std::round(start);
}

/// Events of the direct route whose samples are held together; a fixed number, so that it depends on the scan alone.
std::size_t direct_block(const Scan& scan) {
    constexpr std::size_t max_bytes = 256'000'000;
    const std::size_t event_bytes = sizeof(float) * scan.channels() * scan.samples;
    return std::clamp<std::size_t>(max_bytes / event_bytes, 1, scan.events.size());
}

void choose_route(Run& run, const Phantom& phantom, const Scan& scan, const EngineSettings& settings, double cells_ns) {
    const auto scatterers = static_cast<double>(phantom.candidate_count());
    const double bins = static_cast<double>(run.record.samples) * run.highest_Hz / scan.sampling_rate_Hz;
    RouteCosts& costs = run.estimate.route_costs;
    costs.matrix_s = 1e-9 * (cells_ns + matrix_fixed_cost_ns(scan, run.record.pairs.count(), run.record.samples, bins,
                                                             run.plain_rows));
    run.events_per_block = direct_block(scan);
    const auto blocks = static_cast<double>((scan.events.size() + run.events_per_block - 1) / run.events_per_block);
    for (const Pass& pass : run.passes) {
        costs.direct_s +=
            1e-9 * direct_cost_ns(pass.context, phantom.bounds(), scatterers, pass.cell_size_m, scan, blocks);
    }
    const bool fits = phantom.candidate_count() <= run.work.scatterers_in_memory;
    run.estimate.route = settings.route ? *settings.route : (fits ? costs.cheaper() : Route::matrix);
    run.estimate.route_text = costs.words(run.estimate.route);
}

Run prepare(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings) {
    const Box bounds = phantom.bounds();
    Run run;
    double cells_ns = 0.0;
    for (const PulseBand& band : pulse_bands(probe, phantom.medium)) {
        const auto context_at = [&](double sampling_rate_Hz) {
            return engine_context(probe, band, phantom.medium, sampling_rate_Hz, longest_path_m(phantom, probe),
                                  settings.tolerance);
        };
        Pass pass{.context = context_at(scan.sampling_rate_Hz), .at_lower_rate = {}, .grid = CellGrid(bounds, 1.0)};
        if (pass.context.echoes.negligible() && !run.passes.empty()) {
            continue;
        }
        pass.decimation = decimation_for(pass.context.echoes.highest_Hz(), scan.sampling_rate_Hz);
        if (pass.decimation > 1) {
            pass.at_lower_rate = context_at(scan.sampling_rate_Hz / pass.decimation);
        }
        double cost = 0.0;
        pass.cell_size_m = choose_cell_size_m(pass.of_matrix(), bounds, static_cast<double>(phantom.candidate_count()),
                                              needed_pairs(scan, probe.elements.size()).count(), cost);
        pass.grid = CellGrid(bounds, pass.cell_size_m);
        cells_ns += cost;
        run.passes.push_back(std::move(pass));
    }
    run.record = record_layout(scan, run.passes);
    run.highest_Hz = std::min(pulse_highest_frequency(probe.pulse, band_edge_level(settings.tolerance)),
                              scan.sampling_rate_Hz / 2.0);
    run.work.threads = settings.threads > 0 ? settings.threads : omp_get_num_procs();
    run.work.cells_per_block = settings.cells_per_block;

    run.plain_rows = std::all_of(scan.events.begin(), scan.events.end(), [&](const TransmitEvent& event) {
        return is_plain_row(event, scan.sampling_rate_Hz);
    });
    choose_route(run, phantom, scan, settings, cells_ns);

    const Memory memory =
        run.estimate.route == Route::direct ? memory_of_direct(run, phantom, scan) : memory_needed(run, phantom, scan);
    // Responses of some cells at a time; a few points need no more than their own.
    const double of_all = static_cast<double>(phantom.candidate_count() * run.passes.front().context.elements.padded) *
                          8.0 * longest_window(run.passes) / 2.0;
    const double max_responses = std::min(64e6, of_all);
    const double min_responses = std::min(32e6, max_responses);
    // The program, its libraries and the file being written; and work space of threads, no more than a few points ask.
    const double program = 36e6 + std::min(60e6, of_all);
    const double left = settings.memory_limit_bytes - memory.record - memory.scatterers - memory.strips - program;
    run.work.responses_bytes = static_cast<std::size_t>(std::clamp(left, min_responses, max_responses));
    run.estimate.memory_bytes = program + memory.with_results(static_cast<double>(run.work.responses_bytes));
    run.estimate.file_bytes = 4.0 * static_cast<double>(scan.events.size() * scan.channels() * scan.samples);
    run.estimate.candidate_scatterers = static_cast<double>(phantom.candidate_count());
    run.estimate.words = plain(run.estimate.candidate_scatterers) +
                         (run.estimate.candidate_scatterers == 1.0 ? " scatterer, " : " scatterers, ") +
                         counted(scan.events.size(), "event") + " of " + counted(scan.channels(), "channel") + " by " +
                         counted(scan.samples, "sample") + ": at most " + human_bytes(run.estimate.memory_bytes) +
                         " of memory, a file of " + human_bytes(run.estimate.file_bytes);
    return run;
}

void refuse_too_large(const Estimate& estimate, const EngineSettings& settings) {
    if (estimate.memory_bytes > settings.memory_limit_bytes) {
        throw MachineError("this run needs " + human_bytes(estimate.memory_bytes) + " of memory and may use " +
                           human_bytes(settings.memory_limit_bytes) +
                           "; allow more with --memory-gib, or record fewer elements or less depth");
    }
}

void copy_rows(const PairRecord& record, const Scan& scan, const TransmitEvent& event, std::span<float> samples) {
    const auto fires = static_cast<std::size_t>(
        std::find_if(event.weight.begin(), event.weight.end(), [](double w) { return w != 0.0; }) -
        event.weight.begin());
    const auto offset =
        static_cast<std::int64_t>(std::llround(event.start_time_s * scan.sampling_rate_Hz)) - record.first_sample;
    for (std::size_t channel = 0; channel < event.receivers.size(); ++channel) {
        const auto row = record.row(record.pairs.index(fires, static_cast<std::size_t>(event.receivers[channel])));
        std::copy_n(row.begin() + offset, scan.samples,
                    samples.begin() + static_cast<std::ptrdiff_t>(channel * scan.samples));
    }
}

void simulate_directly(const Run& run, const Phantom& phantom, const Scan& scan, const EngineSettings& settings,
                       const EventSink& sink) {
    Progress progress("events", scan.events.size(), settings.quiet);
    const std::size_t event_samples = scan.channels() * scan.samples;
    std::vector<float> samples;
    for (std::size_t first = 0; first < scan.events.size(); first += run.events_per_block) {
        const std::size_t count = std::min(run.events_per_block, scan.events.size() - first);
        samples.assign(count * event_samples, 0.0F);
        for (const Pass& pass : run.passes) {
            add_events(phantom, pass.context, pass.grid, run.work, scan, std::span(scan.events).subspan(first, count),
                       samples);
        }
        for (std::size_t i = 0; i < count; ++i) {
            sink(first + i, std::span(samples).subspan(i * event_samples, event_samples));
        }
        progress.advance(count);
    }
}

/// Adds the echoes of one part of the pulse to the record.
void fill(const Phantom& phantom, const Pass& pass, const FullMatrixWork& work, PairRecord& record) {
    if (!pass.at_lower_rate) {
        fill_full_matrix(phantom, pass.context, pass.grid, work, record);
        return;
    }
    PairRecord low = decimated_layout(record, pass.decimation, pass.longest_window());
    low.data.assign(low.pairs.count() * low.samples, 0.0F);
    fill_full_matrix(phantom, *pass.at_lower_rate, pass.grid, work, low);
    add_upsampled(low, pass.decimation, work.threads, record);
}

}  // namespace

Estimate estimate(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings) {
    return is_ring_probe(probe) ? estimate_swept(phantom, scan, settings)
                                : prepare(phantom, probe, scan, settings).estimate;
}

void simulate(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings,
              const EventSink& sink) {
    if (is_ring_probe(probe)) {
        refuse_too_large(estimate_swept(phantom, scan, settings), settings);
        simulate_swept(phantom, probe, scan, settings, sink);
        return;
    }
    Run run = prepare(phantom, probe, scan, settings);
    refuse_too_large(run.estimate, settings);
    if (run.estimate.route == Route::direct) {
        simulate_directly(run, phantom, scan, settings, sink);
        return;
    }
    run.record.data.assign(run.record.pairs.count() * run.record.samples, 0.0F);
    {
        Progress progress("echoes", phantom.candidate_count() * run.passes.size(), settings.quiet);
        std::size_t done = 0;
        run.work.progress = [&](std::size_t scatterers) {
            done += scatterers;
            progress.advance(scatterers);
        };
        for (const Pass& pass : run.passes) {
            done = 0;
            fill(phantom, pass, run.work, run.record);
            // Candidates that shapes and inclusions took away were not seen.
            progress.advance(phantom.candidate_count() - std::min(done, phantom.candidate_count()));
        }
    }
    std::vector<float> samples(scan.channels() * scan.samples);
    Progress progress("events", scan.events.size(), settings.quiet);
    if (run.plain_rows) {
        for (std::size_t i = 0; i < scan.events.size(); ++i) {
            copy_rows(run.record, scan, scan.events[i], samples);
            sink(i, samples);
            progress.advance();
        }
        return;
    }
    EventSynthesis synthesis(run.record, scan, run.highest_Hz, run.work.threads);
    const std::size_t together = std::min(synthesis.events_together(), scan.events.size());
    const std::size_t event_samples = samples.size();
    samples.resize(together * event_samples);
    for (std::size_t first = 0; first < scan.events.size(); first += together) {
        const std::size_t count = std::min(together, scan.events.size() - first);
        synthesis.events(std::span(scan.events).subspan(first, count), samples);
        for (std::size_t i = 0; i < count; ++i) {
            sink(first + i, std::span(samples).subspan(i * event_samples, event_samples));
        }
        progress.advance(count);
    }
}

}  // namespace echoloom
