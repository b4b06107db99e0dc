#include "recon/measure/interpolate.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <vector>

namespace echoloom {
namespace {

TEST(Interpolate, GivesSamplesBackExactly) {
    const std::vector<double> samples{0.0, 1.0, -2.0, 5.0, 0.5};
    for (std::size_t n = 0; n < samples.size(); ++n) {
        EXPECT_NEAR(interpolate(samples, static_cast<double>(n)), samples[n], 1e-14);
    }
}

TEST(Interpolate, FollowsABandLimitedSignal) {
    // The header's claim. Away from the ends, where mirroring is another signal.
    for (const auto& [cycles, tolerance] : {std::pair(0.05, 2e-4), {0.2, 2e-4}, {0.3, 2e-4}, {0.34, 1e-3}}) {
        std::vector<double> samples(101);
        for (std::size_t n = 0; n < samples.size(); ++n) {
            samples[n] = std::cos(2.0 * std::numbers::pi * cycles * static_cast<double>(n) + 0.3);
        }
        for (double index = 40.0; index < 60.0; index += 0.137) {
            EXPECT_NEAR(interpolate(samples, index), std::cos(2.0 * std::numbers::pi * cycles * index + 0.3), tolerance)
                << cycles << " cycles per sample at " << index;
        }
    }
}

TEST(Interpolate, KeepsAConstantAndOneSample) {
    const std::vector<double> constant(7, 3.0);
    EXPECT_NEAR(interpolate(constant, 0.4), 3.0, 1e-12);
    EXPECT_NEAR(interpolate(constant, 5.9), 3.0, 1e-12);
    const std::vector<double> single{2.0};
    EXPECT_NEAR(interpolate(single, 0.0), 2.0, 1e-12);
}

TEST(Interpolate, FindsATiltedPeakBetweenSamples) {
    const double column0 = 15.37, depth0 = 20.81;
    std::vector<float> values;
    for (int c = 0; c < 32; ++c) {
        for (int d = 0; d < 40; ++d) {
            const double x = c - column0, z = d - depth0;
            values.push_back(static_cast<float>(std::exp(-0.15 * (x * x + z * z + 1.2 * x * z))));
        }
    }
    const FieldPeak peak = refine_peak({values, 32, 40}, 15, 21);
    EXPECT_NEAR(peak.column, column0, 1e-3);
    EXPECT_NEAR(peak.depth, depth0, 1e-3);
    EXPECT_NEAR(peak.value, 1.0, 1e-4);
}

}  // namespace
}  // namespace echoloom
