#include "sim/engine/virtual_elements.h"

#include <gtest/gtest.h>
#include <hwy/targets.h>

#include <cmath>
#include <numbers>

#include "sim/base/random.h"
#include "sim/engine/node_count.h"
#include "tests/engine/scenes.h"

namespace echoloom {
namespace {

// sqrt(4 sum over m >= n of J_m(a)^2): Abramowitz & Stegun 9.1.44-45 (from memory), by SciPy in
// tests/published/recompute_mathematics.py.
TEST(NodeCount, ErrorIsTheTailOfTheSeries) {
    EXPECT_NEAR(interpolation_error(5.0, 8), 3.85491e-02, 1e-7);
    EXPECT_NEAR(interpolation_error(5.0, 16), 1.55257e-07, 1e-12);
    EXPECT_NEAR(interpolation_error(28.0, 40), 1.13189e-04, 1e-9);
    EXPECT_NEAR(interpolation_error(60.0, 64), 7.89323e-02, 1e-7);
    EXPECT_LE(interpolation_error(28.0, nodes_for_phase(28.0, 1e-4)), 1e-4);
    EXPECT_GT(interpolation_error(28.0, nodes_for_phase(28.0, 1e-4) - 1), 1e-4);
    EXPECT_EQ(nodes_for_phase(1e6, 1e-4), max_nodes + 1);
}

std::vector<Scatterer> crowd(const Vec3& middle_mm) {
    const CounterRandom random(9, 0);
    std::vector<Scatterer> out;
    for (std::uint64_t i = 0; i < 80; ++i) {
        const auto place = [&](std::uint64_t axis) {
            return 1e-3 * (middle_mm[static_cast<Eigen::Index>(axis)] + random.uniform(4 * i + axis) - 0.5);
        };
        out.push_back({place(0), place(1), place(2), 1e-3 * random.uniform(4 * i + 3)});
    }
    return out;
}

struct Planned {
    EngineContext context;
    std::vector<Scatterer> cell;
    WindowPlan plan;
    std::optional<VirtualElements> virtual_elements;
};

Planned planned(const Probe& probe, const Medium& medium, const Vec3& middle_mm) {
    Planned out{engine_context(probe, {probe.pulse}, medium, 40e6, 0.2, 3e-4), crowd(middle_mm), {}, {}};
    out.plan = plan_window(out.context, out.cell);
    const std::size_t pairs = probe.elements.size() * (probe.elements.size() + 1) / 2;
    out.virtual_elements = plan_virtual_elements(out.context, out.cell, pairs, out.plan);
    return out;
}

TEST(VirtualElements, GroupsHoldAllBinsInOrderAndLowOnesNeedFewerNodes) {
    const Probe probe = scenes::array(128);
    const Planned run = planned(probe, {1540.0, 0.0, 1.0, false}, Vec3(1.0, 0.0, 25.0));
    ASSERT_TRUE(run.virtual_elements);
    int bin = run.plan.first_bin;
    std::size_t most = 0;
    for (const NodeGroup& group : run.virtual_elements->groups) {
        EXPECT_EQ(group.plan.first_bin, bin);
        bin += group.plan.bins;
        EXPECT_EQ(group.nodes % node_group, 0U);
        EXPECT_LT(group.nodes, probe.elements.size());
        most = std::max(most, group.nodes);
    }
    EXPECT_EQ(bin, run.plan.first_bin + run.plan.bins);
    EXPECT_GT(run.virtual_elements->groups.size(), 1U);
    EXPECT_LT(run.virtual_elements->groups.front().nodes, most);
}

class FaceFactor : public testing::TestWithParam<std::int64_t> {
  public:
    void SetUp() override { hwy::SetSupportedTargetsForTest(GetParam()); }
    void TearDown() override { hwy::SetSupportedTargetsForTest(0); }
};

/// Worst relative L2 error, over groups of bins, of the interpolated factor against all points of every face.
double worst_group(const Planned& run) {
    const VirtualElements& v = *run.virtual_elements;
    FaceFactorScratch scratch;
    std::vector<ResponseGrid> got(v.groups.size());
    compute_node_responses(run.context, run.plan, v.factor, v.groups, run.cell, scratch, got);
    double all = 0.0;
    double difference = 0.0;
    for (std::size_t g = 0; g < v.groups.size(); ++g) {
        WindowPlan plan = v.groups[g].plan;
        plan.faces = sample_faces(v.groups[g].elements, upper_box(run.cell),
                                  2.0 * std::numbers::pi * run.context.echoes.highest_Hz() / 1540.0, 1e-6);
        ResponseGrid want;
        compute_responses(run.context, v.groups[g].elements, plan, run.cell, want);
        for (std::size_t k = 0; k < want.bins; ++k) {
            // As the pulse weighs them.
            const double weight =
                std::norm(run.context.band.spectrum((plan.first_bin + static_cast<int>(k)) * plan.bin_Hz));
            for (std::size_t s = 0; s < want.scatterers; ++s) {
                for (std::size_t m = 0; m < v.groups[g].nodes; ++m) {
                    const std::size_t at = want.at(k, s) + m;
                    const double re = static_cast<double>(got[g].real[at]) - static_cast<double>(want.real[at]);
                    const double im =
                        static_cast<double>(got[g].imaginary[at]) - static_cast<double>(want.imaginary[at]);
                    difference += weight * (re * re + im * im);
                    all += weight * (std::pow(static_cast<double>(want.real[at]), 2) +
                                     std::pow(static_cast<double>(want.imaginary[at]), 2));
                }
            }
        }
    }
    return std::sqrt(difference / all);
}

TEST_P(FaceFactor, EqualsTheFullRule) {
    const Medium still{1540.0, 0.0, 1.0, false};
    const Medium steep{1540.0, 0.7, 1.1, true};
    Probe soft = scenes::array(96);
    soft.baffle = Baffle::soft;
    for (const auto& [probe, medium, middle_mm] :
         {std::tuple(scenes::array(96), still, Vec3(0.0, 0.0, 30.0)),
          std::tuple(scenes::array(96), steep, Vec3(-6.0, 1.0, 20.0)), std::tuple(soft, still, Vec3(3.0, 0.5, 9.0)),
          std::tuple(scenes::array(96), still, Vec3(2.0, 2.0, 9.0))}) {
        const Planned run = planned(probe, medium, middle_mm);
        ASSERT_TRUE(run.virtual_elements) << middle_mm;
        EXPECT_LT(worst_group(run), 3e-4) << middle_mm;
    }
}

INSTANTIATE_TEST_SUITE_P(Targets, FaceFactor, testing::ValuesIn(hwy::SupportedAndGeneratedTargets()),
                         [](const auto& instance) { return std::string(hwy::TargetName(instance.param)); });

TEST(RouteChoice, FewEventsOfFewPointsGoDirectly) {
    const Probe probe = scenes::array(64);
    const Scan matrix = scenes::full_matrix(probe);
    Scan one = matrix;
    one.events.resize(1);
    std::fill(one.events[0].weight.begin(), one.events[0].weight.end(), 1.0);
    const Estimate few = estimate(scenes::points({{0.0, 0.0, 15e-3, 1e-3}}), probe, one, {});
    EXPECT_EQ(few.route, Route::direct);
    EXPECT_LT(few.route_costs.direct_s, few.route_costs.matrix_s);
    EXPECT_NE(few.route_text.find("directly"), std::string::npos) << few.route_text;
    const Estimate many = estimate(scenes::crowd(), probe, matrix, {});
    EXPECT_EQ(many.route, Route::matrix);
    EXPECT_LT(many.route_costs.matrix_s, many.route_costs.direct_s);
}

}  // namespace
}  // namespace echoloom
