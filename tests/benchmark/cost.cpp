// What the engine's cost grows with: each row doubles one thing and says how many times longer it took.

#include "sim/engine/simulate.h"
#include "tests/benchmark/workloads.h"

namespace echoloom::benchmark {

namespace {

double seconds_of_engine(const Scene& scene, int threads) {
    float received = 0.0F;
    return seconds_of([&] {
        simulate(scene.phantom, scene.probe, scene.scan, {.threads = threads, .quiet = true},
                 [&](std::size_t, std::span<const float> samples) { received += samples.front(); });
    });
}

void add(Bench& bench, const std::string& words, const Scene& once, const Scene& twice) {
    const std::vector<Work> works{[&] { return seconds_of_engine(once, bench.options.threads); },
                                  [&] { return seconds_of_engine(twice, bench.options.threads); }};
    const auto seconds = in_turns(works, bench.rounds(3), bench.warm_up());
    bench.report.add(
        {.group = "cost",
         .stage = "times longer",
         .workload = words,
         .value = ratio(seconds[1], seconds[0]),
         .unit = "x",
         .rate = in_words(spread(seconds[0]).median, "s") + " to " + in_words(spread(seconds[1]).median, "s")});
}

Scan scan_of(const Bench& bench, const Probe& probe, const std::string& name, const std::vector<Override>& changes) {
    return load_scan(bench.workload(name).string(), probe, changes);
}

}  // namespace

void measure_cost(Bench& bench) {
    const EchoWorkload& workload = echo_workloads()[1];
    const Scene scene = load_scene(bench, workload);
    add(bench, "twice the scatterers: " + workload.words, scene, load_scene(bench, workload, 2.0));

    Scene half = scene;
    const std::string elements = std::to_string(scene.probe.elements.size() / 2);
    half.probe = load_probe(bench.workload(workload.probe).string(), std::vector<Override>{{"elements", elements}});
    half.scan = scan_of(bench, half.probe, workload.scan, {});
    add(bench, "twice the elements: " + elements + " to " + std::to_string(scene.probe.elements.size()), half, scene);

    Scene longer = scene;
    longer.scan = scan_of(bench, scene.probe, workload.scan, {{"depth_mm", "112.0"}});
    add(bench,
        "a longer record: " + std::to_string(scene.scan.samples) + " to " + std::to_string(longer.scan.samples) +
            " samples",
        scene, longer);

    Scene few = scene;
    few.scan = scan_of(bench, scene.probe, "plane_waves", {{"depth_mm", "56.0"}});
    Scene many = scene;
    many.scan = scan_of(bench, scene.probe, "plane_waves", {{"depth_mm", "56.0"}, {"angle_count", "62"}});
    add(bench, "twice the events: 31 to 62 plane waves", few, many);
}

}  // namespace echoloom::benchmark
