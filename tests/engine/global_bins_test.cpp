// The engine, by either route, against its slow, exact twin: no cells, no windows, no virtual elements.
#include "sim/engine/global_bins.h"

#include <gtest/gtest.h>
#include <hwy/targets.h>

#include <cmath>

#include "sim/base/random.h"
#include "tests/engine/scenes.h"

namespace echoloom {
namespace {

constexpr double allowed = 1e-3;  // the engine aims at 3e-4 of each channel

/// Scatterers at random in a box, fixed by the seed.
std::vector<Scatterer> cloud(std::size_t count, const Vec3& middle_mm, const Vec3& size_mm, std::uint64_t seed) {
    const CounterRandom random(seed, 0);
    std::vector<Scatterer> out;
    for (std::uint64_t i = 0; i < count; ++i) {
        const auto place = [&](int axis) {
            return 1e-3 *
                   (middle_mm[axis] + size_mm[axis] * (random.uniform(4 * i + static_cast<std::uint64_t>(axis)) - 0.5));
        };
        out.push_back({place(0), place(1), place(2), 1e-3 * (random.uniform(4 * i + 3) - 0.5)});
    }
    return out;
}

double worst_channel(const std::vector<float>& got, const std::vector<float>& want, std::size_t samples) {
    double worst = 0.0;
    for (std::size_t at = 0; at < want.size(); at += samples) {
        worst = std::max(
            worst, scenes::relative_error(std::span(got).subspan(at, samples), std::span(want).subspan(at, samples)));
    }
    return worst;
}

struct Scene {
    std::string name;
    Probe probe;
    Medium medium;
    std::vector<Scatterer> scatterers;
};

/// Crowded enough for virtual elements: one cell of scatterers before more elements than it needs nodes.
std::vector<Scene> scenes_of() {
    const Medium still{1540.0, 0.0, 1.0, false};
    const Medium lossy{1540.0, 0.5, 1.0, false};
    const Medium steep{1540.0, 0.7, 1.1, true};
    const auto crowd = [](double x, double y, double z, std::uint64_t seed) {
        return cloud(40, Vec3(x, y, z), Vec3(0.9, 1.0, 0.9), seed);
    };
    const Probe curved = read_probe(Settings::from_text(
        "kind = \"curved\"\nelements = 48\nradius_mm = 40.0\npitch_mm = 0.4\nwidth_mm = 0.36\nheight_mm = 6.0\n"
        "elevation_focus_mm = 30.0\ncenter_MHz = 3.0\nbandwidth_percent = 60.0\nbaffle = \"rigid\"\n",
        "curved"));
    const auto soft = [] {
        Probe probe = scenes::array(40);
        probe.baffle = Baffle::soft;
        return probe;
    };
    return {{"lens, no loss", scenes::array(40), still, crowd(0.5, 0.0, 15.5, 1)},
            {"lens, loss", scenes::array(40), lossy, crowd(3.0, 0.5, 12.5, 2)},
            {"lens, steep and dispersive, off the axis", scenes::array(40), steep,
             cloud(12, Vec3(-8.0, 0.0, 14.5), Vec3(0.9, 1.0, 0.9), 3)},
            {"out of the plane and near", scenes::array(40), still, crowd(2.0, 2.5, 6.5, 4)},
            {"soft baffle", soft(), lossy, crowd(5.0, 1.0, 10.5, 5)},
            {"curved", curved, lossy, crowd(2.0, 0.5, 15.5, 6)}};
}

class GlobalBins : public testing::TestWithParam<std::size_t> {};

TEST_P(GlobalBins, EngineAgreesByEitherRoute) {
    const Scene scene = scenes_of()[GetParam()];
    Scan scan = scenes::full_matrix(scene.probe);
    // Four firings: an outer element, a steered and a focused wave of all, weighted, and a few elements.
    scan.events.resize(4);
    for (std::size_t v = 1; v < 4; ++v) {
        scan.events[v] = scan.events[0];
        for (std::size_t e = 0; e < scene.probe.elements.size(); ++e) {
            const double x = scene.probe.elements[e].center_m.x();
            scan.events[v].weight[e] = v == 3 ? (e % 7 == 0 ? 1.0 : 0.0) : 0.5 + 0.01 * static_cast<double>(e);
            scan.events[v].delay_s[e] =
                v == 1 ? x * std::sin(0.2) / 1540.0 : (v == 2 ? -std::hypot(x, 12e-3) / 1540.0 + 7.8e-6 : 0.0);
        }
    }
    const std::vector<float> want = simulate_by_global_bins(scene.scatterers, scene.medium, scene.probe, scan);
    Phantom phantom = scenes::points(scene.scatterers, 0.0);
    phantom.medium = scene.medium;
    for (const Route route : {Route::matrix, Route::direct}) {
        EngineSettings settings;
        settings.route = route;
        const std::vector<float> got = scenes::echoes(phantom, scene.probe, scan, settings);
        const double worst = worst_channel(got, want, scan.samples);
        RecordProperty(route == Route::matrix ? "matrix" : "direct", std::to_string(worst));
        EXPECT_LT(worst, allowed) << scene.name << (route == Route::matrix ? ", matrix" : ", direct");
    }
}

INSTANTIATE_TEST_SUITE_P(Scenes, GlobalBins, testing::Range<std::size_t>(0, 6));

}  // namespace
}  // namespace echoloom
