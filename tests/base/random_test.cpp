#include "sim/base/random.h"

#include <gtest/gtest.h>

#include <vector>

namespace echoloom {
namespace {

// First outputs of SplitMix64 from state 0 (reference C code by S. Vigna, from memory; recomputed by
// tests/published/recompute_random.py): output i is mix64(i * golden).
TEST(Random, FinaliserGivesTheReferenceSequence) {
    constexpr std::uint64_t golden = 0x9e3779b97f4a7c15ULL;
    EXPECT_EQ(mix64(0), 0xe220a8397b1dcdafULL);
    EXPECT_EQ(mix64(golden), 0x6e789e6aa1b965f4ULL);
    EXPECT_EQ(mix64(2 * golden), 0x06c45d188009454fULL);
}

// Written again in Python by tests/published/recompute_random.py: a phantom's scatterers must never move between
// versions.
TEST(Random, ValuesOfASeedStayWhatTheyAre) {
    constexpr CounterRandom random(1, 2);
    EXPECT_EQ(random.bits(0), 0x1514adef9b9e7671ULL);
    EXPECT_EQ(random.bits(1'000'000'000'000), 0x53f69ae1ad3ac4a2ULL);
    EXPECT_EQ(random.uniform(3), static_cast<double>(random.bits(3) >> 11) / 9007199254740992.0);
}

// Chi-square with 99 degrees of freedom exceeds 148.2 with probability 0.001 (NIST/SEMATECH e-Handbook 1.3.6.7.4, from
// memory; recomputed by tests/published/recompute_random.py). Neighbouring counters, seeds and streams are each asked
// for uniformity.
double chi_square(const std::vector<double>& uniforms) {
    std::vector<double> counts(100, 0.0);
    for (const double u : uniforms) {
        counts.at(static_cast<std::size_t>(u * 100.0)) += 1.0;
    }
    const double expected = static_cast<double>(uniforms.size()) / 100.0;
    double sum = 0.0;
    for (const double count : counts) {
        sum += (count - expected) * (count - expected) / expected;
    }
    return sum;
}

TEST(Random, UniformAlongCountersSeedsAndStreams) {
    std::vector<double> counters;
    std::vector<double> seeds;
    std::vector<double> streams;
    for (std::uint64_t i = 0; i < 200'000; ++i) {
        counters.push_back(CounterRandom(7, 0).uniform(i));
        seeds.push_back(CounterRandom(i, 0).uniform(0));
        streams.push_back(CounterRandom(7, i).uniform(0));
    }
    EXPECT_LT(chi_square(counters), 148.2);
    EXPECT_LT(chi_square(seeds), 148.2);
    EXPECT_LT(chi_square(streams), 148.2);
}

// Correlation of n independent pairs has standard deviation 1/sqrt(n); four of them.
TEST(Random, NeighboursAndStreamsAreUncorrelated) {
    constexpr int n = 100'000;
    const CounterRandom first(3, 0);
    const CounterRandom second(3, 1);
    double lag = 0.0;
    double cross = 0.0;
    for (std::uint64_t i = 0; i < n; ++i) {
        lag += 12.0 * (first.uniform(i) - 0.5) * (first.uniform(i + 1) - 0.5) / n;
        cross += 12.0 * (first.uniform(i) - 0.5) * (second.uniform(i) - 0.5) / n;
    }
    EXPECT_LT(std::abs(lag), 4.0 / std::sqrt(n));
    EXPECT_LT(std::abs(cross), 4.0 / std::sqrt(n));
}

// Moments of a standard normal: 0, 1, 0, 3 with standard errors sqrt(1, 2, 15, 96) / sqrt(n); four of them.
TEST(Random, NormalHasTheMomentsOfANormal) {
    constexpr int n = 200'000;
    const CounterRandom random(11, 5);
    std::vector<double> moments(5, 0.0);
    for (std::uint64_t i = 0; i < n; ++i) {
        for (int power = 1; power <= 4; ++power) {
            moments[static_cast<std::size_t>(power)] += std::pow(random.normal(i), power) / n;
        }
    }
    const double error = 4.0 / std::sqrt(n);
    EXPECT_NEAR(moments[1], 0.0, error);
    EXPECT_NEAR(moments[2], 1.0, error * std::sqrt(2.0));
    EXPECT_NEAR(moments[3], 0.0, error * std::sqrt(15.0));
    EXPECT_NEAR(moments[4], 3.0, error * std::sqrt(96.0));
}

}  // namespace
}  // namespace echoloom
