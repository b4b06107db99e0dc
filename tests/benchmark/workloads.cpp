#include "tests/benchmark/workloads.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <numbers>

namespace echoloom::benchmark {

namespace {

constexpr std::size_t image_samples = 2048;

/// Uniform in [-1, 1), by splitmix64 (Steele, Lea & Flood 2014, from memory).
float noise(std::uint64_t index) {
    std::uint64_t z = (index + 1) * 0x9e3779b97f4a7c15U;
    z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
    return static_cast<float>(static_cast<double>((z ^ (z >> 31U)) >> 11U) * 0x1p-52 - 1.0);
}

/// The pulse itself as a filter, short enough to run over all traces in a moment.
std::vector<float> band_filter(const RecordingInfo& info) {
    constexpr int half = 12;
    const double sigma_Hz =
        info.probe.bandwidth_fraction * info.probe.center_Hz / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
    std::vector<float> taps;
    for (int i = -half; i <= half; ++i) {
        const double t = i / info.sampling_rate_Hz;
        const double sigma_s = 1.0 / (2.0 * std::numbers::pi * sigma_Hz);
        taps.push_back(static_cast<float>(std::exp(-0.5 * t * t / (sigma_s * sigma_s)) *
                                          std::cos(2.0 * std::numbers::pi * info.probe.center_Hz * t)));
    }
    return taps;
}

/// Filtered noise, equal for every trace but for where in the noise it starts.
std::vector<float> band_noise(const RecordingInfo& info) {
    const std::vector<float> taps = band_filter(info);
    constexpr std::size_t starts = 4096;
    std::vector<float> filtered(starts + info.samples);
    for (std::size_t i = 0; i < filtered.size(); ++i) {
        for (std::size_t k = 0; k < taps.size(); ++k) {
            filtered[i] += taps[k] * noise(i + k);
        }
    }
    std::vector<float> fade(info.samples, 1.0F);
    const std::size_t ramp = std::min<std::size_t>(128, info.samples / 4);
    for (std::size_t i = 0; i < ramp; ++i) {
        const double place = (static_cast<double>(i) + 0.5) / static_cast<double>(ramp);
        fade[i] = static_cast<float>(0.5 - 0.5 * std::cos(std::numbers::pi * place));
        fade[info.samples - 1 - i] = fade[i];
    }
    const std::size_t traces = info.events.size() * info.channels;
    std::vector<float> samples(traces * info.samples);
    for (std::size_t trace = 0; trace < traces; ++trace) {
        const std::size_t start = trace * 1237 % starts;
        std::transform(fade.begin(), fade.end(), filtered.begin() + static_cast<std::ptrdiff_t>(start),
                       samples.begin() + static_cast<std::ptrdiff_t>(trace * info.samples), std::multiplies<>());
    }
    return samples;
}

std::vector<Override> fewer_elements(const Bench& bench) {
    return bench.options.quick ? std::vector<Override>{{"elements", "24"}} : std::vector<Override>{};
}

std::vector<Override> smaller_scan(const Bench& bench, const std::string& scan) {
    if (!bench.options.quick || !scan.starts_with("lines")) {
        return {};
    }
    std::vector<Override> smaller{{"transmit_elements", "8"}, {"receive_elements", "8"}};
    if (scan == frame_workload().scan) {
        smaller.push_back({"lines", "8"});
    }
    return smaller;
}

}  // namespace

const std::vector<EchoWorkload>& echo_workloads() {
    static const std::vector<EchoWorkload> workloads{
        {"matrix of 128, 100,000 scatterers, lens, loss", "slab_lossy", "array_lens", "full_matrix", 2.5},
        {"matrix of 128, 100,000 scatterers", "slab", "array", "full_matrix", 1.7},
        {"matrix of 128, a million scatterers", "slab_million", "array", "full_matrix", 5.0},
        {"192 lines x 64 x 64 on 192, 100,000 scatterers", "slab", "array_192", "lines", 4.0},
        {"matrix of 128, 20 points", "wires", "array", "full_matrix", 0.1}};
    return workloads;
}

Scene load_scene(const Bench& bench, const EchoWorkload& workload, double fraction) {
    Scene scene;
    scene.phantom = load_phantom(bench.workload(workload.phantom).string());
    for (SpeckleRegion& region : scene.phantom.regions) {
        region.density_per_mm3 *= fraction * (bench.options.quick ? 0.001 : 1.0);
    }
    scene.probe = load_probe(bench.workload(workload.probe).string(), fewer_elements(bench));
    scene.scan = load_scan(bench.workload(workload.scan).string(), scene.probe, smaller_scan(bench, workload.scan));
    return scene;
}

const std::vector<ImageWorkload>& image_workloads() {
    static const std::vector<ImageWorkload> workloads{{.name = "matrix",
                                                       .words = "512 x 512 pixels, matrix of 128",
                                                       .probe = "array",
                                                       .scan = "full_matrix",
                                                       .recipe = "pixels",
                                                       .goal_linear_s = 0.2,
                                                       .goal_upsampled_s = 0.6,
                                                       .twin_fraction = 1.0 / 8.0},
                                                      {.name = "all_events",
                                                       .words = "the same, every event at every pixel",
                                                       .probe = "array",
                                                       .scan = "full_matrix",
                                                       .recipe = "pixels",
                                                       .twin_fraction = 1.0 / 16.0,
                                                       .changes = {{"transmit.weights", "equal"}}},
                                                      {.name = "planes",
                                                       .words = "512 x 512 pixels, 31 plane waves x 128",
                                                       .probe = "array",
                                                       .scan = "plane_waves",
                                                       .recipe = "pixels",
                                                       .goal_upsampled_s = 0.08,
                                                       .twin_fraction = 1.0 / 8.0},
                                                      {.name = "lines",
                                                       .words = "192 lines x 64",
                                                       .probe = "array_192",
                                                       .scan = "lines",
                                                       .recipe = "line_by_line",
                                                       .twin_error = 1e-3}};  // places rounded to 1/512 sample
    return workloads;
}

const ImageWorkload& frame_workload() {
    static const ImageWorkload workload{.name = "frames",
                                        .words = "192 lines x 64, tables made",
                                        .probe = "array_255",
                                        .scan = "lines_inside",
                                        .recipe = "line_by_line",
                                        .goal_linear_s = 0.006};
    return workload;
}

EventReader ImageScene::reader() const {
    return [this](std::size_t event, std::span<float> into) {
        std::copy_n(samples.begin() + static_cast<std::ptrdiff_t>(event * into.size()), into.size(), into.begin());
    };
}

ImageScene load_image_scene(const Bench& bench, const ImageWorkload& workload, const std::string& interpolation) {
    const Probe probe = load_probe(bench.workload(workload.probe).string(), fewer_elements(bench));
    const Scan scan = load_scan(bench.workload(workload.scan).string(), probe, smaller_scan(bench, workload.scan));
    ImageScene scene;
    scene.info = planned_recording(probe, scan);
    scene.info.samples = image_samples;
    std::vector<Override> changes = workload.changes;
    changes.push_back({"interpolation", interpolation});
    if (bench.options.quick && workload.recipe == "pixels") {
        changes.push_back({"grid.x_step_mm", "2.0"});
        changes.push_back({"grid.depth_step_mm", "1.0"});
    }
    scene.recipe = load_recipe(bench.workload(workload.recipe).string(), changes);
    scene.samples = band_noise(scene.info);
    return scene;
}

}  // namespace echoloom::benchmark
