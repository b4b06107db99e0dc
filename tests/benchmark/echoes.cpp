// The engine: whole runs without a file, and its two stages alone.

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/engine/product.h"
#include "sim/engine/simulate.h"
#include "sim/engine/synthesis.h"
#include "tests/benchmark/workloads.h"

namespace echoloom::benchmark {

namespace {

/// Runs the engine; the samples are looked at, so that none of the work is for nothing.
double run_engine(const Scene& scene, int threads) {
    float received = 0.0F;
    simulate(scene.phantom, scene.probe, scene.scan, {.threads = threads, .quiet = true},
             [&](std::size_t, std::span<const float> samples) { received += samples.front(); });
    return static_cast<double>(received);
}

std::optional<Goal> goal(const Bench& bench, std::optional<double> seconds) {
    return bench.options.quick || !seconds ? std::nullopt : std::optional(at_most(*seconds));
}

void add_run(Bench& bench, const EchoWorkload& workload) {
    const Scene scene = load_scene(bench, workload);
    const bool cold = workload.phantom == "wires";
    const Spread seconds = repeat([&] { run_engine(scene, bench.options.threads); }, bench.rounds(3), !cold);
    const auto scatterers = static_cast<double>(scene.phantom.candidate_count());
    bench.report.add({.group = "echoes",
                      .stage = "echoes",
                      .workload = workload.words,
                      .value = seconds,
                      .unit = "s",
                      .rate = in_words(scatterers / seconds.median * 1e-3, "thousand scatterers/s"),
                      .goal = goal(bench, workload.goal_s),
                      .note = cold ? "the first of three counts too" : ""});
}

/// Sums over a cell's scatterers for the pairs of a whole array, out of the caches they come from in a run.
void add_product_stage(Bench& bench) {
    constexpr std::size_t bins = 64;
    constexpr std::size_t scatterers = 64;
    constexpr std::size_t columns = 128;
    ResponseGrid responses;
    responses.bins = bins;
    responses.scatterers = scatterers;
    responses.padded = columns;
    responses.real.assign(bins * scatterers * columns, 0.5F);
    responses.imaginary.assign(bins * scatterers * columns, -0.25F);
    responses.strength.assign(scatterers, 1.0F);
    std::vector<StripSums> strips(columns / strip_rows);
    for (std::size_t i = 0; i < strips.size(); ++i) {
        strips[i].first_row = i * strip_rows;
        strips[i].last_column = columns;
        strips[i].width = columns - i * strip_rows;
    }
    const int blocks = bench.options.quick ? 1 : 100;
    const Spread seconds = repeat(
        [&] {
            for (int block = 0; block < blocks; ++block) {
                for (StripSums& strip : strips) {
                    accumulate_products(responses, block == 0, strip);
                }
            }
        },
        bench.rounds(5));
    const double pairs = 0.5 * columns * (columns + 1);
    const Spread reached = rate(8.0 * bins * scatterers * pairs * blocks * 1e-9, seconds);
    bench.report.add({.group = "echoes",
                      .stage = "product stage",
                      .workload = "64 bins x 64 scatterers, pairs of 128, 1 thread",
                      .value = reached,
                      .unit = "GFLOP/s",
                      .roof_fraction = reached.median * 1e9 / bench.roof(Roof::matrix_product, 1),
                      .roof = "matrix product",
                      .note = "pairs with j >= i alone count as work"});
}

/// Events made out of a full matrix that is already there.
void add_synthesis(Bench& bench) {
    const EchoWorkload& lines = echo_workloads()[3];
    const Scene scene = load_scene(bench, lines);
    constexpr std::int64_t room = 200;
    PairRecord record;
    record.pairs = needed_pairs(scene.scan, scene.probe.elements.size());
    record.wanted = wanted_samples(scene.scan);
    record.first_sample = record.wanted.first - room;
    record.samples = static_cast<std::size_t>(record.wanted.last + room - record.first_sample + 1);
    record.data.resize(record.pairs.count() * record.samples);
    std::iota(record.data.begin(), record.data.end(), 0.0F);
    const double highest_Hz = pulse_highest_frequency(scene.probe.pulse, 1e-4);
    const Spread seconds = repeat(
        [&] {
            EventSynthesis synthesis(record, scene.scan, highest_Hz, bench.options.threads);
            const std::size_t together = std::min(synthesis.events_together(), scene.scan.events.size());
            std::vector<float> samples(together * scene.scan.channels() * scene.scan.samples);
            for (std::size_t first = 0; first < scene.scan.events.size(); first += together) {
                const std::size_t count = std::min(together, scene.scan.events.size() - first);
                synthesis.events(std::span(scene.scan.events).subspan(first, count), samples);
            }
        },
        bench.rounds(5));
    bench.report.add({.group = "echoes",
                      .stage = "synthesis",
                      .workload = "192 lines x 64 x 64 from the matrix of 192",
                      .value = seconds,
                      .unit = "s",
                      .rate = in_words(static_cast<double>(scene.scan.events.size()) / seconds.median, "events/s"),
                      .goal = goal(bench, 0.3)});
}

/// One thread against all, in turns.
void add_efficiency(Bench& bench) {
    if (bench.options.threads < 2) {
        return;
    }
    const EchoWorkload& workload = echo_workloads()[1];
    const Scene scene = load_scene(bench, workload);
    const std::vector<Work> works{[&] { return seconds_of([&] { run_engine(scene, 1); }); },
                                  [&] { return seconds_of([&] { run_engine(scene, bench.options.threads); }); }};
    const auto seconds = in_turns(works, bench.rounds(3), bench.warm_up());
    const Spread gain = ratio(seconds[0], seconds[1]);
    const double threads = bench.options.threads;
    bench.report.add({.group = "echoes",
                      .stage = "thread efficiency",
                      .workload = workload.words,
                      .value = {gain.median / threads, gain.least / threads, gain.most / threads},
                      .goal = bench.options.quick ? std::nullopt : std::optional(at_least(0.85))});
}

}  // namespace

void measure_echoes(Bench& bench) {
    // The points first, since nothing else shall have warmed the program for them.
    add_run(bench, echo_workloads().back());
    for (std::size_t i = 0; i + 1 < echo_workloads().size(); ++i) {
        add_run(bench, echo_workloads()[i]);
    }
    add_product_stage(bench);
    add_synthesis(bench);
    add_efficiency(bench);
}

}  // namespace echoloom::benchmark
