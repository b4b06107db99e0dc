// Whole commands, each a fresh process, from its start to its end.

#include "sim/engine/simulate.h"
#include "tests/benchmark/child.h"
#include "tests/benchmark/workloads.h"

namespace echoloom::benchmark {

namespace {

struct Commands {
    const Bench& bench;
    std::string recording = bench.temporary / "recording.h5";

    double run(std::vector<std::string> words) const {
        words.insert(words.begin(), bench.options.program.string());
        return run_child(words, {{"OMP_NUM_THREADS", std::to_string(bench.options.threads)}}).seconds;
    }
    double simulate(const std::string& phantom, const std::string& probe, const std::string& scan) const {
        return run({"simulate", phantom, "--probe", probe, "--scan", scan, "-o", recording, "--force", "--quiet"});
    }
    double reconstruct(const std::string& recipe, const std::vector<std::string>& changes) const {
        std::vector<std::string> words{"reconstruct", recording, "--recipe", recipe, "-o", bench.temporary / "image.h5",
                                       "--force",     "--quiet"};
        for (const std::string& change : changes) {
            words.insert(words.end(), {"--set", "recipe." + change});
        }
        return run(std::move(words));
    }
};

void add(Bench& bench, const std::string& stage, const std::string& words, std::vector<double> seconds,
         std::optional<double> goal_s) {
    Row row{.group = "startup", .stage = stage, .workload = words, .value = spread(std::move(seconds)), .unit = "s"};
    if (goal_s && !bench.options.quick) {
        row.goal = at_most(*goal_s);
    }
    bench.report.add(std::move(row));
}

}  // namespace

void measure_startup(Bench& bench) {
    const Commands commands{bench};
    const std::vector<std::string> about_the_point{"grid.x_mm=[-10,10]", "grid.min_depth_mm=30", "grid.depth_mm=50"};
    const std::vector<Work> works{[&] { return commands.run({"--help"}); },
                                  [&] { return commands.simulate("single_point", "linear_5MHz", "plane_wave_single"); },
                                  [&] { return commands.reconstruct("plane_wave_compound", about_the_point); },
                                  [&] { return commands.reconstruct("plane_wave_compound", {}); },
                                  [&] {
                                      return commands.simulate(bench.workload("wires"), bench.workload("array"),
                                                               bench.workload("plane_wave"));
                                  }};
    const auto seconds = in_turns(works, bench.rounds(15), bench.warm_up());
    std::vector<double> together;
    for (std::size_t i = 0; i < seconds[1].size(); ++i) {
        together.push_back(seconds[1][i] + seconds[2][i]);
    }
    add(bench, "command", "--help", seconds[0], 0.02);
    add(bench, "command", "simulate, one point, one plane wave", seconds[1], {});
    add(bench, "command", "reconstruct 20 x 20 mm about it, picture included", seconds[2], {});
    add(bench, "command", "both together", together, 0.15);
    add(bench, "command", "reconstruct the whole of it, 58 x 70 mm", seconds[3], {});
    add(bench, "command", "simulate, 20 points, one plane wave", seconds[4], 0.1);
}

void measure_memory(Bench& bench) {
    for (const EchoWorkload& workload : echo_workloads()) {
        if (bench.options.quick && workload.phantom != "wires") {
            continue;
        }
        Bench whole{.options = bench.options, .report = {}, .sources = bench.sources, .temporary = {}, .roofs = {}};
        whole.options.quick = false;
        const Scene scene = load_scene(whole, workload);
        const double announced = estimate(scene.phantom, scene.probe, scene.scan, {}).memory_bytes;
        const ChildRun run =
            run_child({bench.options.program.string(), "simulate", bench.workload(workload.phantom), "--probe",
                       bench.workload(workload.probe), "--scan", bench.workload(workload.scan), "-o",
                       bench.temporary / "recording.h5", "--force", "--quiet"},
                      {{"OMP_NUM_THREADS", std::to_string(bench.options.threads)}});
        constexpr double MiB = 1024.0 * 1024.0;
        const double share = run.peak_bytes / announced;
        Row row{.group = "memory",
                .stage = "peak over announced",
                .workload = workload.words,
                .value = {share, share, share},
                .rate = in_words(run.peak_bytes / MiB, "MiB") + " of " + in_words(announced / MiB, "MiB")};
        if (!bench.options.quick) {
            row.goal = at_least(0.9);
        }
        bench.report.add(std::move(row));
    }
}

}  // namespace echoloom::benchmark
