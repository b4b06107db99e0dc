// Differences of fields that are known in closed form.

#include "recon/compare/difference.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>

#include "sim/base/error.h"

namespace echoloom {
namespace {

constexpr std::size_t rows = 12, samples = 400;

/// A pulse of 12 samples a period, in a band of rows about the middle one.
std::vector<float> pulses(double shift, double gain, double aside = 0.0) {
    std::vector<float> field;
    for (std::size_t row = 0; row < rows; ++row) {
        for (std::size_t n = 0; n < samples; ++n) {
            const double t = static_cast<double>(n) - 200.0 - shift;
            const double x = (static_cast<double>(row) - 5.5 - aside) / 2.5;
            field.push_back(static_cast<float>(gain * std::exp(-t * t / 400.0 - x * x) *
                                               std::cos(2.0 * std::numbers::pi * t / 12.0)));
        }
    }
    return field;
}

TEST(Difference, SameBitsAreIdentical) {
    const auto field = pulses(0.0, 1.0);
    const Difference difference = field_difference(field, field, rows, samples);
    EXPECT_TRUE(difference.identical);
    EXPECT_EQ(difference.relative_l2, 0.0);
    EXPECT_EQ(difference.correlation, 1.0);
    EXPECT_TRUE(std::isinf(difference.largest_dB) && difference.largest_dB < 0.0);
}

TEST(Difference, OneBitIsNotIdentical) {
    const auto before = pulses(0.0, 1.0);
    auto after = before;
    after[rows / 2 * samples + 10] = std::nextafter(after[rows / 2 * samples + 10], 1.0F);
    EXPECT_FALSE(field_difference(before, after, rows, samples).identical);
    // Nor is minus zero zero.
    std::vector<float> zero(rows * samples, 0.0F), minus = zero;
    minus[5] = -0.0F;
    EXPECT_FALSE(field_difference(zero, minus, rows, samples).identical);
}

TEST(Difference, LocatesOneSampleAndItsLevel) {
    const auto before = pulses(0.0, 2.0);
    auto after = before;
    after[3 * samples + 77] -= 0.02F;
    const Difference difference = field_difference(before, after, rows, samples);
    EXPECT_EQ(difference.largest_row, 3U);
    EXPECT_EQ(difference.largest_sample, 77U);
    EXPECT_NEAR(difference.largest, -0.02, 1e-7);
    EXPECT_NEAR(difference.largest_dB, 20.0 * std::log10(0.02 / difference.peak), 1e-4);
    EXPECT_EQ(difference.rows.from, 3U);
    EXPECT_EQ(difference.rows.to, 3U);
    EXPECT_EQ(difference.samples.from, 77U);
    EXPECT_EQ(difference.samples.to, 77U);
    double energy = 0.0;
    for (const float value : before) energy += static_cast<double>(value) * value;
    EXPECT_NEAR(difference.relative_l2, 0.02 / std::sqrt(energy), 1e-8);
}

/// Closed form: a shift by t of a signal of angular frequency w differs by 2 sin(w t / 2) of its norm; one twentieth of
/// a sample and a tenth of a decibel are separated.
TEST(Difference, GainAndShiftAreSeparated) {
    const auto before = pulses(0.0, 1.0);
    const Difference later = field_difference(before, pulses(0.05, 1.0), rows, samples);
    EXPECT_NEAR(later.relative_l2, 2.0 * std::sin(std::numbers::pi * 0.05 / 12.0), 0.02 * later.relative_l2);
    // A central difference is sin(w) / w of the slope: 4.5 % short at 12 samples a period.
    EXPECT_NEAR(later.fit.samples, 0.05 / 0.955, 5e-4);
    EXPECT_NEAR(later.fit.gain, 0.0, 1e-3);
    EXPECT_GT(later.fit.explained, 0.99);
    const Difference louder = field_difference(before, pulses(0.0, std::pow(10.0, 0.1 / 20.0)), rows, samples);
    EXPECT_NEAR(louder.level_dB, 0.1, 1e-5);
    EXPECT_NEAR(louder.fit.gain, std::pow(10.0, 0.1 / 20.0) - 1.0, 1e-6);
    EXPECT_NEAR(louder.fit.samples, 0.0, 1e-6);
    const Difference aside = field_difference(before, pulses(0.0, 1.0, 0.01), rows, samples);
    EXPECT_NEAR(aside.fit.rows, 0.01, 0.0015);
    EXPECT_NEAR(aside.fit.samples, 0.0, 1e-5);
}

TEST(Difference, WorstRowIsAgainstItsOwnNorm) {
    auto before = pulses(0.0, 1.0);
    for (std::size_t n = 0; n < samples; ++n) before[n] = 1e-6F;  // silence
    auto after = before;
    for (std::size_t n = 0; n < samples; ++n) {
        after[n] *= 3.0F;
        after[11 * samples + n] *= 1.01F;
        after[5 * samples + n] *= 1.002F;
    }
    const Difference difference = field_difference(before, after, rows, samples);
    EXPECT_EQ(difference.worst_row, 11U);
    EXPECT_NEAR(difference.worst_row_l2, 0.01, 1e-5);
}

TEST(Difference, SilenceBeforeAndValuesThatAreNotNumbers) {
    std::vector<float> silent(rows * samples, 0.0F);
    const Difference difference = field_difference(silent, pulses(0.0, 1.0), rows, samples);
    EXPECT_TRUE(std::isinf(difference.relative_l2));
    EXPECT_TRUE(std::isinf(difference.largest_dB));
    auto broken = pulses(0.0, 1.0);
    broken[7] = std::numeric_limits<float>::quiet_NaN();
    EXPECT_THROW(field_difference(pulses(0.0, 1.0), broken, rows, samples), InputError);
    EXPECT_THROW(field_difference(broken, broken, rows, samples), InputError);
}

}  // namespace
}  // namespace echoloom
