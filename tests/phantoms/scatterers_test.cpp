#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

#include "tests/phantoms/phantom_text.h"

namespace echoloom {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

const std::string slab =
    "[[speckle]]\nshape = 'box'\ncenter_mm = [0.0, 0.0, 30.0]\nsize_mm = [10.0, 4.0, 20.0]\n"
    "density_per_mm3 = 25.0\nstrength_dB = -40.0\n";
const std::string cyst_and_disc =
    "[[speckle.inclusion]]\nshape = 'cylinder'\ncenter_mm = [-2.0, 0.0, 30.0]\ndiameter_mm = 5.0\nanechoic = true\n"
    "[[speckle.inclusion]]\nshape = 'sphere'\ncenter_mm = [2.5, 0.0, 30.0]\ndiameter_mm = 4.0\ncontrast_dB = 6.0\n";
const std::string layer =
    "[[layer]]\ntop_mm = 20.0\nbottom_mm = 40.0\nlateral_mm = [-5.0, 5.0]\nelevation_mm = [-2.0, 2.0]\n"
    "density_per_mm3 = 5.0\n";
const std::string wire = "[[wire]]\nposition_mm = [1.0, 25.0]\n";

bool same(const Scatterer& a, const Scatterer& b) {
    return a.x_m == b.x_m && a.y_m == b.y_m && a.z_m == b.z_m && a.strength_m == b.strength_m;
}

bool in_window(const Scatterer& s, const Box& window) {
    const Vec3 place(s.x_m, s.y_m, s.z_m);
    return (place.array() >= window.least.array()).all() && (place.array() < window.most.array()).all();
}

// Computed apart from this program, in Python's whole numbers, by tests/published/recompute_random.py from the mixing
// function of G. L. Steele, D. Lea & C. H. Flood, OOPSLA 2014 (constants from memory), and the meaning of the settings:
// a phantom's scatterers are the same everywhere and must never move between versions.
TEST(Scatterers, OfASeedAreWhereTheyAlwaysWere) {
    const std::array<Scatterer, 4> expected = {
        {{0.0032478861693794872, -3.4555835043121873e-05, 0.020465906894051346, 1e-5},
         {0.0025488168563069023, 0.0008553373423629318, 0.021043263225765677, 1e-5},
         {-0.0018069465738774614, -0.00045733172933721411, 0.034045063017295304, 1e-5},
         {0.0039313921646168572, -0.00010782624607687286, 0.037377854300585121, 1e-5}}};
    const std::vector<Scatterer> found = all_scatterers(phantom_from(slab));
    for (std::size_t i = 0; i < expected.size(); ++i) {
        EXPECT_EQ(found[i].x_m, expected[i].x_m);
        EXPECT_EQ(found[i].y_m, expected[i].y_m);
        EXPECT_EQ(found[i].z_m, expected[i].z_m);
        EXPECT_DOUBLE_EQ(found[i].strength_m, expected[i].strength_m);
    }
    const std::vector<Scatterer> in_layer = all_scatterers(phantom_from(layer));
    EXPECT_EQ(in_layer[0].x_m, 0.0034845076664354237);
    EXPECT_EQ(in_layer[1].z_m, 0.036846566892921893);
    EXPECT_DOUBLE_EQ(in_layer[0].strength_m, -1e-3);
}

TEST(Scatterers, InAWindowAreASubsequenceOfAll) {
    const Phantom phantom = phantom_from(wire + slab + cyst_and_disc + layer);
    const std::vector<Scatterer> all = all_scatterers(phantom);
    std::mt19937 random(1);
    std::uniform_real_distribution<double> across(-7.0 * mm, 7.0 * mm);
    std::uniform_real_distribution<double> along(-12.0 * mm, 12.0 * mm);
    std::uniform_real_distribution<double> down(18.0 * mm, 42.0 * mm);
    for (int trial = 0; trial < 60; ++trial) {
        const Vec3 a(across(random), along(random), down(random));
        const Vec3 b(across(random), along(random), down(random));
        Box window{a.cwiseMin(b), a.cwiseMax(b)};
        if (trial % 3 == 0) {
            window.least.head<2>().setConstant(-infinite);
            window.most.head<2>().setConstant(infinite);
        }
        std::vector<Scatterer> expected;
        std::ranges::copy_if(all, std::back_inserter(expected),
                             [&](const Scatterer& s) { return in_window(s, window); });
        const std::vector<Scatterer> found = scatterers_in(phantom, window);
        ASSERT_EQ(found.size(), expected.size()) << "trial " << trial;
        EXPECT_TRUE(std::ranges::equal(found, expected, same)) << "trial " << trial;
    }
}

TEST(Scatterers, OfTouchingLayersAreEachFoundOnce) {
    const Phantom phantom = phantom_from(wire + slab);
    std::size_t count = 0;
    for (int i = 0; i < 20; ++i) {
        // The wire at 25 mm lies exactly on a border.
        const double top = (20.0 + i) * mm;
        count += scatterers_in(phantom, {Vec3(-infinite, -infinite, top), Vec3(infinite, infinite, top + mm)}).size();
    }
    EXPECT_EQ(count, all_scatterers(phantom).size());
    EXPECT_EQ(count, phantom.candidate_count());
}

TEST(Scatterers, ComeInSpansOfModestSize) {
    std::size_t count = 0;
    const Phantom phantom = phantom_from(slab + wire);
    for_each_scatterer(phantom, phantom.bounds(), [&](std::span<const Scatterer> some) {
        EXPECT_GT(some.size(), 0U);
        EXPECT_LE(some.size(), 4096U);
        count += some.size();
    });
    EXPECT_EQ(count, 20'000U + 200U);
}

TEST(Scatterers, FillTheirBoxEvenly) {
    const std::vector<Scatterer> all = all_scatterers(phantom_from(slab, {{"speckle.0.density_per_mm3", "250"}}));
    ASSERT_EQ(all.size(), 200'000U);
    std::vector<double> counts(1000, 0.0);
    double sign_sum = 0.0;
    for (const Scatterer& s : all) {
        const auto bin = [](double place, double least, double size) {
            return std::min<std::size_t>(9, static_cast<std::size_t>((place - least) / size * 10.0));
        };
        counts[100 * bin(s.x_m, -5 * mm, 10 * mm) + 10 * bin(s.y_m, -2 * mm, 4 * mm) + bin(s.z_m, 20 * mm, 20 * mm)] +=
            1.0;
        sign_sum += s.strength_m > 0.0 ? 1.0 : -1.0;
    }
    double chi_square = 0.0;
    for (const double count : counts) {
        chi_square += (count - 200.0) * (count - 200.0) / 200.0;
    }
    // Chi-square of 999 degrees of freedom: mean 999, standard deviation sqrt(2 * 999) = 44.7; four of those.
    EXPECT_NEAR(chi_square, 999.0, 4.0 * 44.7);
    // A sum of n random signs has standard deviation sqrt(n); four of those.
    EXPECT_LT(std::abs(sign_sum), 4.0 * std::sqrt(200'000.0));
}

TEST(Scatterers, FollowTheirSeedAndNothingElse) {
    const auto first = [](const Phantom& phantom) { return all_scatterers(phantom).front(); };
    const Phantom phantom = phantom_from(slab);
    EXPECT_TRUE(same(first(phantom), first(phantom_from(slab))));
    EXPECT_NE(first(phantom).x_m, first(phantom_from(slab, {{"seed", "8"}})).x_m);
    // A layer more, or an inclusion elsewhere, moves nothing.
    EXPECT_TRUE(same(first(phantom), first(phantom_from(slab + layer))));
    EXPECT_TRUE(same(first(phantom), first(phantom_from(slab + cyst_and_disc))));
    // Two regions in one place are different speckle.
    const std::vector<Scatterer> both = all_scatterers(phantom_from(slab + slab));
    EXPECT_NE(both[0].x_m, both[20'000].x_m);
}

/// Scatterers of a shape inside a box of the same extent: a count that stands for the volume.
void expect_volume(const std::string& keys, double box_mm3, double volume_mm3) {
    constexpr double density = 400.0;
    const Phantom phantom =
        phantom_from("[[speckle]]\ncenter_mm = [1.0, -2.0, 30.0]\ndensity_per_mm3 = 400.0\n" + keys);
    const double candidates = std::round(density * box_mm3);
    EXPECT_EQ(static_cast<double>(phantom.candidate_count()), candidates);
    const double share = volume_mm3 / box_mm3;
    const double deviation = std::sqrt(candidates * share * (1.0 - share));
    EXPECT_NEAR(static_cast<double>(all_scatterers(phantom).size()), candidates * share, 4.0 * deviation) << keys;
}

// Binomial counts against the textbook volumes; four standard deviations.
TEST(Shapes, HoldTheirVolume) {
    constexpr double pi = std::numbers::pi;
    expect_volume("shape = 'sphere'\ndiameter_mm = 12.0\n", 12.0 * 12.0 * 12.0, 4.0 / 3.0 * pi * 216.0);
    expect_volume("shape = 'cylinder'\ndiameter_mm = 12.0\nlength_mm = 10.0\n", 1440.0, pi * 36.0 * 10.0);
    expect_volume("shape = 'ellipsoid'\nsize_mm = [6.0, 10.0, 24.0]\n", 1440.0, 4.0 / 3.0 * pi * 3.0 * 5.0 * 12.0);
}

TEST(Shapes, LieWhereTheyAreTold) {
    const Phantom phantom = phantom_from(
        "[[speckle]]\nshape = 'ellipsoid'\ncenter_mm = [1.0, -2.0, 30.0]\nsize_mm = [6.0, 10.0, 24.0]\n"
        "density_per_mm3 = 200.0\n");
    Vec3 mean = Vec3::Zero();
    const std::vector<Scatterer> all = all_scatterers(phantom);
    for (const Scatterer& s : all) {
        const Vec3 off = (Vec3(s.x_m, s.y_m, s.z_m) - Vec3(1.0, -2.0, 30.0) * mm).cwiseQuotient(Vec3(3, 5, 12) * mm);
        EXPECT_LE(off.norm(), 1.0);
        mean += off / static_cast<double>(all.size());
    }
    // Each coordinate of a unit ball has variance 1/5.
    EXPECT_LT(mean.cwiseAbs().maxCoeff(), 4.0 * std::sqrt(0.2 / static_cast<double>(all.size())));
}

TEST(Shapes, HoldOnesThatFit) {
    const Shape box{RegionShape::box, Vec3(0, 0, 1), Vec3(1, 1, 1)};
    const Shape ball{RegionShape::sphere, Vec3(0, 0, 1), Vec3(1, 1, 1)};
    const Shape drum{RegionShape::cylinder, Vec3(0, 0, 1), Vec3(1, 1, 1)};
    EXPECT_TRUE(box.holds(box) && box.holds(ball) && box.holds(drum));
    EXPECT_TRUE(drum.holds(drum) && drum.holds(ball) && !drum.holds(box));
    EXPECT_TRUE(ball.holds(ball) && !ball.holds(drum) && !ball.holds(box));
    const double inscribed = 1.0 / std::numbers::sqrt3;
    EXPECT_TRUE(ball.holds({RegionShape::box, Vec3(0, 0, 1), Vec3::Constant(inscribed)}));
    EXPECT_FALSE(ball.holds({RegionShape::box, Vec3(0, 0, 1), Vec3::Constant(1.001 * inscribed)}));
    EXPECT_FALSE(box.holds({RegionShape::sphere, Vec3(0.01, 0, 1), Vec3(1, 1, 1)}));
}

double mean_square(const std::vector<Scatterer>& all, const Shape& shape) {
    double sum = 0.0;
    double count = 0.0;
    for (const Scatterer& s : all) {
        if (shape.contains(s.x_m, s.y_m, s.z_m)) {
            sum += s.strength_m * s.strength_m;
            count += 1.0;
        }
    }
    return sum / count;
}

TEST(Inclusions, ScaleTheStrengthInside) {
    const Phantom phantom = phantom_from(slab + cyst_and_disc);
    const std::vector<Scatterer> all = all_scatterers(phantom);
    const Shape disc = phantom.regions[0].inclusions[1].shape;
    const Shape elsewhere{RegionShape::box, Vec3(0, 0, 37) * mm, Vec3(4, 2, 2) * mm};
    EXPECT_NEAR(10.0 * std::log10(mean_square(all, disc) / mean_square(all, elsewhere)), 6.0, 1e-9);
    EXPECT_NEAR(10.0 * std::log10(mean_square(all, elsewhere) / (mm * mm)), -40.0, 1e-9);
}

TEST(Inclusions, AreEmptyWhereAnechoic) {
    const std::vector<Scatterer> all = all_scatterers(phantom_from(slab + cyst_and_disc));
    const std::vector<Scatterer> plain = all_scatterers(phantom_from(slab));
    const auto in_cyst = [](const Scatterer& s) { return std::hypot(s.x_m + 2.0 * mm, s.z_m - 30.0 * mm) <= 2.5 * mm; };
    EXPECT_EQ(std::ranges::count_if(all, in_cyst), 0);
    const auto removed = static_cast<double>(std::ranges::count_if(plain, in_cyst));
    EXPECT_EQ(plain.size() - all.size(), static_cast<std::size_t>(removed));
    // pi r^2 times the region's thickness, as the cylinder's length was left out.
    const double expected = 25.0 * std::numbers::pi * 6.25 * 4.0;
    EXPECT_NEAR(removed, expected, 4.0 * std::sqrt(expected));
}

TEST(Inclusions, CountFromTheLastWhereTheyOverlap) {
    const std::string shape = "shape = 'sphere'\ncenter_mm = [0.0, 0.0, 30.0]\n";
    const Phantom phantom =
        phantom_from(slab + "[[speckle.inclusion]]\n" + shape + "diameter_mm = 4.0\nanechoic = true\n" +
                     "[[speckle.inclusion]]\n" + shape + "diameter_mm = 2.0\ncontrast_dB = 20.0\n");
    std::size_t core = 0;
    for (const Scatterer& s : all_scatterers(phantom)) {
        const double distance = Vec3(s.x_m, s.y_m, s.z_m - 30.0 * mm).norm();
        EXPECT_TRUE(distance <= 1.0 * mm || distance > 2.0 * mm);
        EXPECT_NEAR(std::abs(s.strength_m), distance <= 1.0 * mm ? 1e-4 : 1e-5, 1e-15);
        core += distance <= 1.0 * mm ? 1U : 0U;
    }
    EXPECT_GT(core, 50U);
}

TEST(Bounds, HoldEveryScattererAsAWindow) {
    const Phantom phantom = phantom_from(
        "[[point]]\nposition_mm = [-8.0, 1.0, 50.0]\n[[point]]\nposition_mm = [9.0, -3.0, 12.0]\n" + wire + slab);
    const Box bounds = phantom.bounds();
    EXPECT_EQ(bounds.least.x(), -8.0 * mm);
    EXPECT_EQ(bounds.least.y(), -10.0 * mm);
    EXPECT_EQ(bounds.least.z(), 12.0 * mm);
    EXPECT_DOUBLE_EQ(bounds.most.x(), 9.0 * mm);
    EXPECT_DOUBLE_EQ(bounds.most.y(), 10.0 * mm);
    EXPECT_DOUBLE_EQ(bounds.most.z(), 50.0 * mm);
    EXPECT_EQ(all_scatterers(phantom).size(), phantom.candidate_count());
    EXPECT_EQ(all_scatterers(load_phantom("single_point")).size(), 1U);
}

}  // namespace
}  // namespace echoloom
