// The beamformer, from samples in memory to the beamformed grid.

#include <omp.h>

#include <algorithm>
#include <cmath>

#include "recon/beamform/aperture.h"
#include "recon/beamform/grid_axes.h"
#include "recon/beamform/line_sum.h"
#include "tests/benchmark/workloads.h"

namespace echoloom::benchmark {

namespace {

std::vector<float> weights_at(const Aperture& aperture, std::span<const double> elements_m, double x_m,
                              double width_m) {
    std::vector<double> offsets(elements_m.size());
    std::ranges::transform(elements_m, offsets.begin(), [&](double place) { return place - x_m; });
    std::vector<float> weights(offsets.size());
    aperture.weigh(width_m, offsets, false, weights);
    return weights;
}

double active(const std::vector<float>& weights) {
    return static_cast<double>(std::ranges::count_if(weights, [](float weight) { return weight != 0.0F; }));
}

/// Real samples looked up between two neighbours: two for an analytic one.
double interpolations(const ImageScene& scene, const Grid& grid) {
    const Aperture aperture(scene.recipe, scene.info);
    std::vector<double> elements_m;
    for (const Element& element : scene.info.probe.elements) {
        elements_m.push_back(element.center_m.x());
    }
    double count = 0.0;
    if (const auto* pixels = std::get_if<CartesianGrid>(&grid)) {
        const bool like_receive = scene.info.events.front().kind == TransmitKind::element &&
                                  scene.recipe.transmit_weights == TransmitWeights::as_receive;
        const auto events = static_cast<double>(scene.info.events.size());
        for (const double x : pixels->x_m) {
            for (const double depth : pixels->depth_m) {
                const double elements = active(weights_at(aperture, elements_m, x, aperture.width_m(depth)));
                count += 2.0 * elements * (like_receive ? elements : events);
            }
        }
        return count;
    }
    const auto& lines = std::get<LineGrid>(grid);
    for (std::size_t line = 0; line < lines.origin_m.size(); ++line) {
        std::vector<double> receivers_m;
        for (const int receiver : scene.info.events[line].receivers) {
            receivers_m.push_back(elements_m[static_cast<std::size_t>(receiver)]);
        }
        for (const double depth : lines.depth_m) {
            count += active(weights_at(aperture, receivers_m, lines.origin_m[line].x(), aperture.width_m(depth)));
        }
    }
    return count;
}

void add_image(Bench& bench, const ImageWorkload& workload, const std::string& interpolation,
               std::optional<double> goal_s) {
    const ImageScene scene = load_image_scene(bench, workload, interpolation);
    Beamformed image;
    const Spread seconds = repeat([&] { image = beamform(scene.info, scene.reader(), scene.recipe); }, bench.rounds(5));
    Row row{.group = "images",
            .stage = "image, " + interpolation,
            .workload = workload.words + " x " + std::to_string(scene.info.samples) + " samples",
            .value = seconds,
            .unit = "s"};
    if (interpolation == "linear") {
        const double rate = interpolations(scene, image.grid) / seconds.median;
        row.rate = in_words(rate * 1e-9, "interpolations/ns");
        row.roof_fraction = rate / bench.roof(Roof::interpolation);
        row.roof = "interpolation";
    } else {
        row.note = workload.name == "lines" ? "its error at 7 MHz: 0.17 % (tests/beamform/interpolation_test.cpp)"
                                            : "its error at 7 MHz: 0.023 % (tests/beamform/transform_test.cpp)";
    }
    if (goal_s && !bench.options.quick) {
        row.goal = at_most(*goal_s);
    }
    if (workload.name == "lines") {
        const double bytes = 4.0 * static_cast<double>(scene.samples.size());
        row.rate += (row.rate.empty() ? "" : ", ") +
                    in_words(100.0 * bytes / seconds.median / bench.roof(Roof::memory_read), "% of memory read");
    }
    bench.report.add(std::move(row));
}

/// One frame after the other of the same scan, from memory: what is left is the sum, on so many threads.
Spread frame_seconds(const Bench& bench, const ImageScene& scene, int threads, int rounds) {
    omp_set_num_threads(threads);
    const std::size_t event_samples = scene.info.channels * scene.info.samples;
    std::vector<std::span<const float>> events;
    for (std::size_t event = 0; event < scene.info.events.size(); ++event) {
        events.push_back(std::span(scene.samples).subspan(event * event_samples, event_samples));
    }
    const LineGrid grid = line_grid(scene.recipe, scene.info);
    std::vector<float> image(grid.origin_m.size() * grid.depth_m.size());
    LineSum sum(scene.info, scene.recipe, grid);
    const Spread seconds = repeat([&] { sum.form_from(events, image); }, rounds);
    omp_set_num_threads(bench.options.threads);
    return seconds;
}

void add_frames(Bench& bench) {
    const ImageWorkload& workload = frame_workload();
    const ImageScene scene = load_image_scene(bench, workload, "linear");
    const Spread seconds = frame_seconds(bench, scene, bench.options.threads, bench.rounds(21));
    const double bytes = sizeof(float) * static_cast<double>(scene.samples.size());
    bench.report.add({.group = "images",
                      .stage = "frame, linear",
                      .workload = workload.words + " x " + std::to_string(scene.info.samples) + " samples",
                      .value = seconds,
                      .unit = "s",
                      .rate = in_words(bytes / seconds.median * 1e-9, "GB/s"),
                      .roof_fraction = bytes / seconds.median / bench.roof(Roof::memory_read),
                      .roof = "memory read",
                      .goal = bench.options.quick ? std::nullopt : std::optional(at_most(*workload.goal_linear_s))});
    if (bench.options.threads > 1) {
        const Spread alone = frame_seconds(bench, scene, 1, bench.rounds(21));
        const double gain = alone.median / seconds.median / bench.options.threads;
        bench.report.add({.group = "images",
                          .stage = "thread efficiency",
                          .workload = workload.words + ", linear",
                          .value = {gain, gain, gain},
                          .goal = bench.options.quick ? std::nullopt : std::optional(at_least(0.85))});
    }
}

void add_efficiency(Bench& bench, const ImageWorkload& workload, const std::string& interpolation) {
    if (bench.options.threads < 2) {
        return;
    }
    const ImageScene scene = load_image_scene(bench, workload, interpolation);
    const auto on = [&](int threads) {
        omp_set_num_threads(threads);
        const double seconds = seconds_of([&] { beamform(scene.info, scene.reader(), scene.recipe); });
        omp_set_num_threads(bench.options.threads);
        return seconds;
    };
    const std::vector<Work> works{[&] { return on(1); }, [&] { return on(bench.options.threads); }};
    const auto seconds = in_turns(works, bench.rounds(5), true);
    const Spread gain = ratio(seconds[0], seconds[1]);
    const double threads = bench.options.threads;
    bench.report.add({.group = "images",
                      .stage = "thread efficiency",
                      .workload = workload.words + ", " + interpolation,
                      .value = {gain.median / threads, gain.least / threads, gain.most / threads},
                      .goal = bench.options.quick ? std::nullopt : std::optional(at_least(0.85))});
}

}  // namespace

void measure_images(Bench& bench) {
    for (const ImageWorkload& workload : image_workloads()) {
        add_image(bench, workload, "linear", workload.goal_linear_s);
        add_image(bench, workload, "upsampled", workload.goal_upsampled_s);
    }
    add_frames(bench);
    add_efficiency(bench, image_workloads().front(), "linear");
    add_efficiency(bench, image_workloads().front(), "upsampled");
}

}  // namespace echoloom::benchmark
