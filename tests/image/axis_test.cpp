#include "recon/image/axis.h"

#include <gtest/gtest.h>

namespace echoloom {
namespace {

TEST(Axis, StepsAreRound) {
    EXPECT_DOUBLE_EQ(round_step(10.0), 10.0);
    EXPECT_DOUBLE_EQ(round_step(10.1), 20.0);
    EXPECT_DOUBLE_EQ(round_step(3.0), 5.0);
    EXPECT_DOUBLE_EQ(round_step(60.0), 100.0);
    EXPECT_NEAR(round_step(0.12), 0.2, 1e-12);
}

TEST(Axis, EdgeIsRuledLikeARod) {
    std::vector<double> labelled;
    int halves = 0;
    int tenths = 0;
    for (const Tick& tick : ruled_edge(-19.05, 19.05, 10.0, 1.0)) {
        if (tick.kind == TickKind::labelled) {
            labelled.push_back(tick.value);
        }
        halves += tick.kind == TickKind::half ? 1 : 0;
        tenths += tick.kind == TickKind::tenth ? 1 : 0;
    }
    EXPECT_EQ(labelled, (std::vector<double>{-10.0, 0.0, 10.0}));
    EXPECT_EQ(halves, 4);   // -15 -5 5 15
    EXPECT_EQ(tenths, 32);  // every other whole number from -19 to 19
}

TEST(Axis, EndsAreIncludedInSpiteOfRounding) {
    const std::vector<Tick> ticks = ruled_edge(-30.000000001, 29.999999999, 10.0, 100.0);
    ASSERT_EQ(ticks.size(), 7U);
    EXPECT_DOUBLE_EQ(ticks.front().value, -30.0);
    EXPECT_DOUBLE_EQ(ticks.back().value, 30.0);
}

TEST(Axis, CrowdedMarksAreLeftOut) {
    EXPECT_EQ(ruled_edge(0.0, 20.0, 10.0, 1.0).size(), 21U);
    EXPECT_EQ(ruled_edge(0.0, 20.0, 10.0, 2.0).size(), 5U);
    EXPECT_EQ(ruled_edge(0.0, 20.0, 10.0, 6.0).size(), 3U);
}

TEST(Axis, LabelsCarryATrueMinus) {
    EXPECT_EQ(tick_label(-20.0, 10.0), "\u221220");
    EXPECT_EQ(tick_label(-0.0, 10.0), "0");
    EXPECT_EQ(tick_label(1.5, 0.5), "1.5");
    EXPECT_EQ(tick_label(-0.05, 0.05), "\u22120.05");
}

}  // namespace
}  // namespace echoloom
