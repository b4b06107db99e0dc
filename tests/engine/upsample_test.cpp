/// A record at a lower rate, raised and added, against the echo it stands for by its own formula.

#include "sim/engine/upsample.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

// The sampling theorem's two samples a cycle and a tenth more (common practice, no source): 40 / (2.2 x 3.9) = 4.66.
TEST(Upsample, TheRateLeavesATenthToSpare) {
    EXPECT_EQ(decimation_for(3.9e6, 40e6), 4);
    EXPECT_EQ(decimation_for(15e6, 40e6), 1);
    EXPECT_EQ(decimation_for(25e6, 40e6), 1);
    EXPECT_EQ(decimation_for(1e3, 40e6), 16);
}

TEST(Upsample, LayoutsCoverWhatIsWantedBeforeTimeZeroToo) {
    PairRecord record;
    record.wanted = {-7, 1003};
    const PairRecord low = decimated_layout(record, 4, 10);
    EXPECT_LE(low.wanted.first * 4, record.wanted.first);
    EXPECT_GE(low.wanted.last * 4, record.wanted.last);
    EXPECT_EQ(low.first_sample, low.wanted.first - 10);
    EXPECT_LE((low.first_sample + 10) * 4, record.wanted.first);
}

/// 0.3 of the lower rate and less at 1e-5: exact interpolation leaves rounding.
TEST(Upsample, AddsTheEchoWhereItBelongs) {
    const auto echo = [](double t) {
        const double u = t / 34.0;
        return std::exp(-0.5 * u * u) * std::cos(2.0 * std::numbers::pi * 0.045 * t);
    };
    PairRecord record;
    record.pairs.last = {2, 2};
    record.pairs.start = {0, 2, 3};
    record.wanted = {-3, 900};
    record.first_sample = -67;
    record.samples = 1031;
    record.data.assign(3 * record.samples, 1.0F);
    PairRecord low = decimated_layout(record, 4, 20);
    low.data.resize(3 * low.samples);
    for (std::size_t pair = 0; pair < 3; ++pair) {
        for (std::size_t n = 0; n < low.samples; ++n) {
            const double t = 4.0 * (static_cast<double>(low.first_sample) + static_cast<double>(n));
            low.row(pair)[n] = static_cast<float>(echo(t - 300.3 - 70.0 * static_cast<double>(pair)));
        }
    }
    for (const int threads : {1, 3}) {
        PairRecord sum = record;
        add_upsampled(low, 4, threads, sum);
        for (std::size_t pair = 0; pair < 3; ++pair) {
            for (std::size_t n = 0; n < sum.samples; ++n) {
                const double t = static_cast<double>(sum.first_sample) + static_cast<double>(n);
                ASSERT_NEAR(sum.row(pair)[n], 1.0 + echo(t - 300.3 - 70.0 * static_cast<double>(pair)), 2e-6)
                    << pair << " " << n;
            }
        }
    }
}

}  // namespace
}  // namespace echoloom
