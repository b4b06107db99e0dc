// Echoes against plain NumPy: the same physics one frequency after the other, and histograms of arrivals.

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "sim/engine/simulate.h"
#include "tests/benchmark/twins.h"
#include "tests/benchmark/workloads.h"

namespace echoloom::benchmark {

namespace {

struct Pair {
    std::size_t transmitter, receiver;
};

/// Samples of some pairs of a full matrix, one row each.
std::vector<float> rows_of(const Scene& scene, int threads, std::span<const Pair> pairs) {
    const std::size_t samples = scene.scan.samples;
    std::vector<float> rows(pairs.size() * samples);
    simulate(scene.phantom, scene.probe, scene.scan, {.threads = threads, .quiet = true},
             [&](std::size_t event, std::span<const float> received) {
                 for (std::size_t i = 0; i < pairs.size(); ++i) {
                     if (pairs[i].transmitter == event) {
                         std::ranges::copy(received.subspan(pairs[i].receiver * samples, samples),
                                           rows.begin() + static_cast<std::ptrdiff_t>(i * samples));
                     }
                 }
             });
    return rows;
}

std::vector<double> scatterers_of(const Phantom& phantom) {
    std::vector<double> values;
    for_each_scatterer(phantom, phantom.bounds(), [&](std::span<const Scatterer> some) {
        for (const Scatterer& s : some) {
            values.insert(values.end(), {s.x_m, s.y_m, s.z_m, s.strength_m});
        }
    });
    return values;
}

/// `share`: of the workload's scatterers. All pairs of the chosen elements are held against the scripts.
void write_scene(const std::filesystem::path& folder, const Scene& scene, int threads, double share,
                 const std::vector<double>& elements, std::span<const Pair> pairs) {
    std::filesystem::create_directory(folder);
    const Element& element = scene.probe.elements.front();
    const auto& pulse = std::get<GaussianPulse>(scene.probe.pulse);
    nlohmann::json facts{{"share", share},
                         {"sampling_rate_Hz", scene.scan.sampling_rate_Hz},
                         {"samples", scene.scan.samples},
                         {"start_s", scene.scan.events.front().start_time_s},
                         {"sound_speed_m_s", scene.phantom.medium.sound_speed_m_s},
                         {"attenuation_dB_cm_MHz", scene.phantom.medium.attenuation_dB_cm_MHz},
                         {"center_Hz", pulse.center_Hz},
                         {"bandwidth_fraction", pulse.bandwidth_fraction},
                         {"width_m", element.width_m},
                         {"height_m", element.height_m},
                         {"elevation_focus_m", nullptr},
                         {"points_across", 5},
                         {"points_along", 28}};
    if (std::isfinite(scene.probe.elevation_focus_m)) {
        facts["elevation_focus_m"] = scene.probe.elevation_focus_m;
        facts["points_along"] = 20;  // the lens takes most of the curvature away
    }
    write_case(folder, facts);
    std::vector<double> element_x_m;
    for (const Element& it : scene.probe.elements) {
        element_x_m.push_back(it.center_m.x());
    }
    std::vector<double> chosen;
    for (const Pair& pair : pairs) {
        chosen.insert(chosen.end(), {static_cast<double>(pair.transmitter), static_cast<double>(pair.receiver)});
    }
    const std::vector<double> scatterers = scatterers_of(scene.phantom);
    write_npy(folder, "scatterers", scatterers, {scatterers.size() / 4, 4});
    write_npy(folder, "element_x_m", element_x_m, {element_x_m.size()});
    write_npy(folder, "elements", elements, {elements.size()});
    write_npy(folder, "pairs", chosen, {pairs.size(), 2});
    write_npy(folder, "product", rows_of(scene, threads, pairs), {pairs.size(), scene.scan.samples});
}

/// Every scatterer, on the pairs of an outer and an inner element: what the product is wrong by where cells are full.
void add_error(Bench& bench, const EchoWorkload& workload, const Scene& scene) {
    const std::size_t last = scene.probe.elements.size() - 1;
    const std::size_t inner = last * 2 / 3;
    const std::vector<Pair> pairs{{0, 0}, {0, inner}, {inner, 0}, {inner, inner}};
    const std::filesystem::path folder = bench.temporary / "whole";
    write_scene(folder, scene, bench.options.threads, 1.0, {0.0, static_cast<double>(inner)}, pairs);
    const double error = run_twin(bench, "plain_echoes_frequency.py", folder, 1.0).error;
    bench.report.add({.group = "echo_twins",
                      .stage = "error",
                      .workload = workload.words,
                      .value = {error, error, error},
                      .goal = at_most(1e-3),
                      .note = "L2, four pairs of the full size against NumPy in the frequency domain"});
}

void add_times(Bench& bench, const EchoWorkload& workload, const Scene& scene, const Twin& twin) {
    const bool whole = bench.options.full || bench.options.quick;
    const double share = whole ? 1.0 : twin.fraction;
    const Scene part = whole ? scene : load_scene(bench, workload, share);
    std::vector<double> elements;
    std::vector<Pair> pairs;
    for (std::size_t i = 0; i < scene.probe.elements.size(); ++i) {
        elements.push_back(static_cast<double>(i));
        pairs.push_back({i, scene.probe.elements.size() - 1 - i});
    }
    const std::filesystem::path folder = bench.temporary / "part";
    write_scene(folder, part, bench.options.threads, share, elements, pairs);
    const auto product = [&] { return seconds_of([&] { rows_of(scene, bench.options.threads, {}); }); };
    add_ratios(bench, "echo_twins", workload.words, product, folder, {&twin, 1});
}

}  // namespace

void measure_echo_twins(Bench& bench) {
    for (std::size_t i = 0; i < 2; ++i) {
        const EchoWorkload& workload = echo_workloads()[i];
        const Scene scene = load_scene(bench, workload);
        add_error(bench, workload, scene);
        add_times(bench, workload, scene,
                  {"NumPy, frequency domain", "plain_echoes_frequency.py", 0.002, 1e-3, at_least(100.0)});
        add_times(bench, workload, scene, {"NumPy, time domain", "plain_echoes_time.py", 0.1, 0.0, at_least(4.0)});
    }
}

}  // namespace echoloom::benchmark
