// Contrast, CNR and gCNR of Rayleigh regions of known contrast, and what a histogram's bias would do to gCNR.

#include "recon/measure/contrast.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "recon/measure/rayleigh.h"
#include "recon/measure/sections.h"
#include "tests/measure/speckle_field.h"

namespace echoloom {
namespace {

/// Independent Rayleigh values of a mean power, in halves by turns.
std::vector<LabelledValue> rayleigh_values(std::size_t count, double power_dB, std::uint64_t seed) {
    const CounterRandom random(seed, 2);
    std::vector<LabelledValue> values;
    for (std::size_t n = 0; n < count; ++n) {
        const double power = -std::log(1.0 - random.uniform(n)) * std::pow(10.0, 0.1 * power_dB);
        values.push_back({std::sqrt(power), static_cast<int>(n % 2)});
    }
    return values;
}

TEST(Gcnr, MeetsTheClosedFormOfRayleighRegions) {
    for (const double contrast : {-1.0, -6.0, -10.0, -20.0, -40.0, 6.0}) {
        const auto inside = rayleigh_values(100000, contrast, 1), outside = rayleigh_values(100000, 0.0, 2);
        EXPECT_NEAR(cross_validated_gcnr(inside, outside, 1e5), rayleigh_gcnr(contrast), 0.01) << contrast << " dB";
    }
}

TEST(Gcnr, OfOneDistributionIsZeroWhereAHistogramWouldSayAFifth) {
    // 2,000 values a side in 256 bins give sqrt(256 / (2000 pi)) = 0.20 (expected difference of two counts, derived;
    // recomputed from binomial counts by tests/published/recompute_speckle.py).
    double mean = 0.0;
    for (std::uint64_t trial = 0; trial < 50; ++trial) {
        mean += cross_validated_gcnr(rayleigh_values(2000, 0.0, 10 + trial), rayleigh_values(2000, 0.0, 1000 + trial),
                                     2000) /
                50.0;
    }
    EXPECT_LT(mean, 0.02);
}

TEST(Gcnr, OfRegionsThatHardlyOverlapIsNearOneForAnyNumberOfBins) {
    // 24 cells ask for 5 bins, 300 for 13: the border of two equal crowds falls into the middle of one.
    for (const double cells : {24.0, 50.0, 300.0, 2000.0}) {
        const auto inside = rayleigh_values(4000, -40.0, 1), outside = rayleigh_values(4000, 0.0, 2);
        EXPECT_NEAR(cross_validated_gcnr(inside, outside, cells), rayleigh_gcnr(-40.0), 0.005) << cells;
        const auto weaker = rayleigh_values(4000, -20.0, 3);
        EXPECT_NEAR(cross_validated_gcnr(weaker, outside, cells), rayleigh_gcnr(-20.0), 0.015) << cells;
    }
}

TEST(Gcnr, SeesWhatNoSingleThresholdSees) {
    // Inside always 1, outside 0.5 or 1.5: always separable, though the means are the same.
    std::vector<LabelledValue> inside, outside;
    for (int n = 0; n < 2000; ++n) {
        inside.push_back({1.0 + 1e-3 * n / 2000.0, n % 2});
        outside.push_back({n % 4 < 2 ? 0.5 : 1.5, n % 2});
    }
    // A bin that straddles a border counts for one side alone.
    EXPECT_GT(cross_validated_gcnr(inside, outside, 2000), 0.92);
}

/// A disc of 6 mm radius in speckle whose brightness also falls with depth.
Image disc_image(double contrast_dB, double slope_dB_m, std::uint64_t seed) {
    const double step = 0.1e-3;
    Image image = synthetic::speckle_image(320, 320, step, {2.0, 2.0}, seed, [&](double x, double z) {
        const bool inside = std::hypot(x, z - 26e-3) < 6e-3;
        return std::pow(10.0, 0.1 * ((inside ? contrast_dB : 0.0) - slope_dB_m * (z - 26e-3)));
    });
    image.recording.probe = synthetic::line_probe(64, 0.3e-3, 0.27e-3, 5e6, 0.6);
    image.recording.channels = 64;
    image.recording.events = {
        synthetic::focused_event(image.recording.probe, Vec3::Zero(), Vec3::UnitZ(), 26e-3, 1540.0)};
    TrueRegion background{"background", RegionShape::box, {0.0, 0.0, 26e-3}, {16e-3, 2e-3, 16e-3}};
    TrueRegion disc{"disc", RegionShape::cylinder, {0.0, 0.0, 26e-3}, {6e-3, 2e-3, 6e-3}, contrast_dB, true};
    image.recording.truth.regions = {background, disc};
    return image;
}

TEST(Contrast, OfADiscInSpeckleWhoseBrightnessFallsWithDepth) {
    for (const double contrast : {-12.0, -6.0, 6.0}) {
        const Section section = region_section(disc_image(contrast, 500.0, 3));
        ASSERT_EQ(section.rows.size(), 1U);
        const auto& quantities = section.rows[0].quantities;
        // About 480 cells inside: 0.2 dB of standard deviation.
        EXPECT_NEAR(quantities[0].value.value(), contrast, 0.6) << contrast;
        EXPECT_LT(quantities[0].confidence->first, contrast);
        EXPECT_GT(quantities[0].confidence->second, contrast);
        EXPECT_NEAR(quantities[0].references[0].value(), contrast, 1e-12);
        EXPECT_NEAR(quantities[1].value.value(), rayleigh_cnr(contrast), 0.1);
        EXPECT_NEAR(quantities[2].value.value(), rayleigh_gcnr(contrast), 0.06);
    }
}

TEST(Contrast, OfEqualRegionsIsZero) {
    const Section section = region_section(disc_image(0.0, 0.0, 4));
    EXPECT_NEAR(section.rows[0].quantities[0].value.value(), 0.0, 0.5);
    EXPECT_LT(section.rows[0].quantities[2].value.value(), 0.08);
}

TEST(Contrast, NothingIsSureOfAHandfulOfCells) {
    // 8 cells a side that no threshold mistakes: 1 - 3 / n bounds what may yet be wrong (95 %; the rule of three, J. A.
    // Hanley & A. Lippman-Hand, J. Am. Med. Assoc. 249, 1743-1745, 1983, from memory).
    std::vector<RegionPixel> inside, outside;
    for (std::size_t n = 0; n < 64; ++n) {
        const double x = 0.1e-3 * static_cast<double>(n % 8), z = 0.1e-3 * static_cast<double>(n / 8);
        inside.push_back({n % 8, n / 8, x, z, 0.01, 1e-8});
        outside.push_back({n % 8, n / 8, x, z, 1.0, 1e-8});
    }
    const RegionContrast measured = compare_regions(inside, outside, {0.4e-3, 0.2e-3});
    EXPECT_NEAR(measured.cells_inside, 8.0, 1e-9);
    EXPECT_GT(measured.gcnr_spread, 0.1);
    EXPECT_LT(measured.gcnr_spread, 0.3);
}

TEST(Outline, GrowsShrinksAndThinsOffItsMiddle) {
    const TrueRegion box{"", RegionShape::box, {0.0, 0.0, 20e-3}, {5e-3, 1e-3, 3e-3}};
    EXPECT_TRUE(inside_outline(box, 4.9e-3, 22.9e-3));
    EXPECT_FALSE(inside_outline(box, 4.9e-3, 22.9e-3, -0.2e-3, 0.0));
    EXPECT_TRUE(inside_outline(box, 5.1e-3, 20e-3, 0.2e-3, 0.0));
    const TrueRegion ball{"", RegionShape::sphere, {0.0, 1.5e-3, 20e-3}, {2.5e-3, 2.5e-3, 2.5e-3}};
    EXPECT_TRUE(inside_outline(ball, 1.9e-3, 20e-3)) << "2 mm wide in the image plane";
    EXPECT_FALSE(inside_outline(ball, 2.1e-3, 20e-3));
    EXPECT_FALSE(inside_outline(box, 0.0, 24e-3, 0.0, -4e-3)) << "shrunk to nothing";
}

}  // namespace
}  // namespace echoloom
