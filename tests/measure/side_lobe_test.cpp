// Side lobes and cystic resolution of known shapes: level within 1 %, place within 0.05 pixel of the main lobe's width
// in pixels, at 3 to 30 pixels per width and any offset between pixels.

#include "recon/measure/side_lobe.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/measure/point_width.h"
#include "sim/base/random.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

/// 2 J1(x) / x squared, the two-way beam of equal discs (M. Born & E. Wolf, Principles of Optics, sec. 8.5.2, from
/// memory); 1.028993970 of its scale wide at one half (recomputed by tests/published/recompute_pistons.py).
double airy_squared(double offset, double width) {
    const double x = std::numbers::pi * std::abs(offset) * 1.028993970 / width;
    return x < 1e-9 ? 1.0 : std::pow(2.0 * std::cyl_bessel_j(1.0, x) / x, 2);
}

struct Shape {
    const char* name;
    double (*value)(double offset, double width);
    double peak_side_lobe_dB;  ///< recomputed by tests/published/recompute_arrays.py and recompute_pistons.py
    double at_in_scales;       ///< of lambda F#
    double width_in_scales;
};
/// Place of the Airy pattern's first side lobe: second zero of J2, 5.135622, over pi (M. Abramowitz &
/// I. A. Stegun, Handbook of Mathematical Functions, 1964, table 9.5, from memory; recomputed likewise).
const Shape shapes[] = {{"sinc^2", synthetic::sinc_squared, -26.522918, 1.430296653, 0.885892941},
                        {"Airy^2", airy_squared, -35.1403, 5.135622 / std::numbers::pi, 1.028993970}};

/// Samples of a shape whose peak lies `offset` samples beside the middle one.
Profile sampled(const Shape& shape, double pixels, double offset, double widths) {
    Profile profile;
    const auto half = static_cast<int>(widths * pixels);
    for (int n = -half; n <= half; ++n) {
        profile.position_m.push_back(n / pixels);
        profile.amplitude.push_back(shape.value((n - offset) / pixels, 1.0));
    }
    return profile;
}

/// Energy outside over inside the first zeros, to `reach` on either side, by Simpson's rule.
double integrated_side_lobe_ratio_dB(const Shape& shape, double zero, double reach) {
    const auto energy = [&](double from, double to) {
        constexpr int steps = 20000;
        double sum = 0.0;
        for (int n = 0; n <= steps; ++n) {
            const double value = shape.value(from + (to - from) * n / steps, 1.0);
            sum += (n == 0 || n == steps ? 1.0 : n % 2 == 1 ? 4.0 : 2.0) * value * value;
        }
        return sum * (to - from) / steps / 3.0;
    };
    return 10.0 * std::log10(energy(zero, reach) / energy(0.0, zero));
}

class KnownLobes : public testing::TestWithParam<double> {};

TEST_P(KnownLobes, LevelPlaceAndIntegralWithinOnePercent) {
    const double pixels = GetParam();
    const CounterRandom random(7, static_cast<std::uint64_t>(pixels));
    const double reach = 5.0;  // widths
    for (const Shape& shape : shapes) {
        const double zero = (shape.width_in_scales > 1.0 ? 1.219669891 : 1.0) / shape.width_in_scales;
        for (std::uint64_t trial = 0; trial < 20; ++trial) {
            const double offset = random.uniform(trial) - 0.5;
            const Profile profile = sampled(shape, pixels, offset, 9.0);
            const double peak = 0.5 * static_cast<double>(profile.amplitude.size() - 1) + offset;
            const double middle = offset / pixels;
            const SideLobes lobes = side_lobes(profile, peak, middle - reach, middle + reach);
            ASSERT_TRUE(lobes.peak_side_lobe_dB) << shape.name << lobes.reason;
            EXPECT_NEAR(*lobes.peak_side_lobe_dB, shape.peak_side_lobe_dB, 20.0 * std::log10(1.01)) << shape.name;
            EXPECT_NEAR(std::abs(lobes.peak_side_lobe_m - middle), shape.at_in_scales / shape.width_in_scales,
                        std::max(0.05 / pixels, 0.01 * shape.at_in_scales))
                << shape.name;
            // Zeros of the fourth order in power: -60 dB, where lobes end to count, is reached before them.
            EXPECT_NEAR(lobes.main_to_m - lobes.main_from_m, 2.0 * zero, 0.04 * 2.0 * zero + 0.15 / pixels)
                << shape.name;
            EXPECT_NEAR(*lobes.integrated_side_lobe_ratio_dB, integrated_side_lobe_ratio_dB(shape, zero, reach),
                        10.0 * std::log10(1.02))
                << shape.name;
        }
    }
}

/// One-way beams have zeros that are cusps of the envelope: a rectangular and a Hann aperture (-13.261459 and -31.47
/// dB; F. J. Harris, Proc. IEEE 66(1), 51-83, 1978, Table I, rows from memory; recomputed in closed form by
/// tests/published/recompute_arrays.py and recompute_windows.py).
class OneWayLobes : public testing::TestWithParam<double> {};

TEST_P(OneWayLobes, LevelFromFivePixelsOn) {
    const double pixels = GetParam();
    const CounterRandom random(9, static_cast<std::uint64_t>(pixels));
    const auto sinc = [](double u) {
        const double angle = std::numbers::pi * u;
        return std::abs(angle) < 1e-9 ? 1.0 : std::sin(angle) / angle;
    };
    for (std::uint64_t trial = 0; trial < 20; ++trial) {
        const double offset = random.uniform(trial) - 0.5;
        for (const bool hann : {false, true}) {
            const double width = hann ? 2.0 : 1.206709129;
            Profile profile;
            const auto half = static_cast<int>(6.0 * pixels);
            for (int n = -half; n <= half; ++n) {
                const double u = (n - offset) / pixels * width;
                const double value = hann ? sinc(u) + 0.5 * sinc(u - 1.0) + 0.5 * sinc(u + 1.0) : sinc(u);
                profile.position_m.push_back(n / pixels);
                profile.amplitude.push_back(std::abs(value));
            }
            const SideLobes lobes = side_lobes(profile, half + offset, -4.0, 4.0);
            ASSERT_TRUE(lobes.peak_side_lobe_dB);
            // Lobes between cusps, below -30 dB, are blurred by the cusps' ringing.
            EXPECT_NEAR(*lobes.peak_side_lobe_dB, hann ? -31.47 : -13.261459, hann ? 1.0 : 20.0 * std::log10(1.01))
                << hann;
        }
    }
}

INSTANTIATE_TEST_SUITE_P(PixelsPerWidth, OneWayLobes, testing::Values(5.0, 10.0, 30.0));
INSTANTIATE_TEST_SUITE_P(PixelsPerWidth, KnownLobes, testing::Values(3.0, 4.0, 5.0, 10.0, 30.0));

TEST(SideLobe, AGaussianHasNone) {
    Profile profile;
    for (int n = -60; n <= 60; ++n) {
        profile.position_m.push_back(n * 0.1e-3);
        profile.amplitude.push_back(synthetic::gaussian(n * 0.1e-3, 0.8e-3));
    }
    const SideLobes lobes = side_lobes(profile, 60.0, -2e-3, 2e-3);
    EXPECT_FALSE(lobes.peak_side_lobe_dB);
    EXPECT_FALSE(lobes.integrated_side_lobe_ratio_dB);
    EXPECT_FALSE(lobes.reason.empty());
}

TEST(SideLobe, AHighOneIsLocatedOnItsSide) {
    Profile profile;
    for (int n = 200; n >= -200; --n) {  // lines may run from right to left
        const double x = n * 0.05e-3;
        profile.position_m.push_back(x);
        profile.amplitude.push_back(synthetic::gaussian(x, 0.8e-3) + 0.2 * synthetic::gaussian(x + 3e-3, 0.8e-3) +
                                    0.1 * synthetic::gaussian(x - 4e-3, 0.8e-3));
    }
    const SideLobes lobes = side_lobes(profile, 200.0);
    ASSERT_TRUE(lobes.peak_side_lobe_dB);
    EXPECT_NEAR(*lobes.peak_side_lobe_dB, 20.0 * std::log10(0.2), 0.01);
    EXPECT_NEAR(lobes.peak_side_lobe_m, -3e-3, 0.005e-3);
    EXPECT_NEAR(*lobes.integrated_side_lobe_ratio_dB, 10.0 * std::log10(0.05), 0.05) << "0.2^2 + 0.1^2 of equal widths";
    // Where only the other side belongs to the point, that side's is given.
    const SideLobes right = side_lobes(profile, 200.0, -1.2e-3, 6e-3);
    ASSERT_TRUE(right.peak_side_lobe_dB);
    EXPECT_NEAR(right.peak_side_lobe_m, 4e-3, 0.005e-3);
}

class KnownHole : public testing::TestWithParam<double> {};

TEST_P(KnownHole, AGaussianPointFillsAHoleOfKnownRadius) {
    const double pixels = GetParam(), width = 0.6e-3, axial = 0.6e-3;
    const CounterRandom random(8, static_cast<std::uint64_t>(pixels));
    for (std::uint64_t trial = 0; trial < 4; ++trial) {
        const double step = width / pixels;
        const double x0 = (random.uniform(2 * trial) - 0.5) * step,
                     z0 = 20e-3 + (random.uniform(2 * trial + 1) - 0.5) * step;
        const auto half = static_cast<std::size_t>(6.0 * pixels) + 8;
        const Image image = synthetic::cartesian_image(
            step, 2 * half + 1, step, 20e-3 - static_cast<double>(half) * step, 2 * half + 1, [&](double x, double z) {
                return synthetic::gaussian(x - x0, width) * synthetic::gaussian(z - z0, axial);
            });
        const PointMeasurement point = measure_point(image, {{x0, 0.0, z0}, width, axial, {}});
        ASSERT_TRUE(point.found);
        const CysticResolution cystic = cystic_resolution(image, point, 4.0 * width);
        ASSERT_TRUE(cystic.radius_m) << cystic.reason;
        // Power outside r of exp(-8 ln 2 r^2 / w^2) is exp(-8 ln 2 r^2 / w^2).
        const double expected = width * std::sqrt(std::log(100.0) / (8.0 * std::numbers::ln2));
        EXPECT_NEAR(*cystic.radius_m, expected, 0.01 * expected);
    }
}

INSTANTIATE_TEST_SUITE_P(PixelsPerWidth, KnownHole, testing::Values(3.0, 5.0, 15.0));

TEST(CysticResolution, SaysWhereSurroundingsHoldTheEnergy) {
    const Image image = synthetic::cartesian_image(0.1e-3, 101, 0.05e-3, 15e-3, 201, [](double x, double z) {
        return synthetic::gaussian(x, 0.6e-3) * synthetic::gaussian(z - 20e-3, 0.3e-3) + 0.2;
    });
    const PointMeasurement point = measure_point(image, {{0.0, 0.0, 20e-3}, 0.6e-3, 0.3e-3, {}});
    ASSERT_TRUE(point.found);
    EXPECT_FALSE(cystic_resolution(image, point, 3e-3).radius_m);
    EXPECT_FALSE(cystic_resolution(image, point, 3e-3).reason.empty());
}

}  // namespace
}  // namespace echoloom
