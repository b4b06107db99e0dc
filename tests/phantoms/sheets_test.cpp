#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

#include "tests/base/message.h"
#include "tests/phantoms/phantom_text.h"

namespace echoloom {
namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double degree = std::numbers::pi / 180.0;

const std::string sheet =
    "[[sheet]]\nname = 'slope'\ncenter_mm = [1.0, 2.0, 40.0]\nsize_mm = [10.0, 12.0]\ntilt_deg = 30.0\n"
    "density_per_mm2 = 50.0\nstrength_dB = -20.0\n";
const std::string speckle =
    "[[speckle]]\nshape = 'box'\ncenter_mm = [0, 0, 30]\nsize_mm = [10, 4, 20]\ndensity_per_mm3 = 2\n";

bool same(const Scatterer& a, const Scatterer& b) {
    return a.x_m == b.x_m && a.y_m == b.y_m && a.z_m == b.z_m && a.strength_m == b.strength_m;
}

// Computed apart from this program, in Python, by tests/published/recompute_random.py, as those of regions are: a
// sheet's scatterers must never move between versions.
TEST(Sheets, OfASeedAreWhereTheyAlwaysWere) {
    const std::array<Scatterer, 3> expected = {
        {{-0.0035074870423281498, 0.005441169813490914, 0.04198676031814702, -1e-4},
         {-0.0022269267123194844, -0.002694536185988065, 0.037289608269298224, 1e-4},
         {0.0006325656289559636, 0.0023218480170040146, 0.04018581903925549, 1e-4}}};
    const std::vector<Scatterer> found = all_scatterers(phantom_from(sheet));
    for (std::size_t i = 0; i < expected.size(); ++i) {
        EXPECT_EQ(found[i].x_m, expected[i].x_m);
        EXPECT_EQ(found[i].y_m, expected[i].y_m);
        EXPECT_EQ(found[i].z_m, expected[i].z_m);
        EXPECT_DOUBLE_EQ(found[i].strength_m, expected[i].strength_m);
    }
}

TEST(Sheets, LieInTheirPlane) {
    const Phantom phantom = phantom_from(sheet);
    const std::vector<Scatterer> all = all_scatterers(phantom);
    EXPECT_EQ(all.size(), 50U * 10U * 12U);
    EXPECT_EQ(all.size(), phantom.candidate_count());
    for (const Scatterer& s : all) {
        EXPECT_NEAR(s.z_m - 40.0 * mm, (s.y_m - 2.0 * mm) * std::tan(30.0 * degree), 1e-13);
        EXPECT_LE(std::abs(s.x_m - 1.0 * mm), 5.0 * mm);
        EXPECT_LE(std::abs(s.y_m - 2.0 * mm), 6.0 * mm * std::cos(30.0 * degree) + 1e-13);
        EXPECT_NEAR(std::abs(s.strength_m), 0.1 * mm, 1e-18);
    }
}

TEST(Sheets, AreFilledEvenlyWithBothSigns) {
    const std::vector<Scatterer> all = all_scatterers(phantom_from(sheet, {{"sheet.0.density_per_mm2", "500"}}));
    ASSERT_EQ(all.size(), 60'000U);
    std::vector<double> counts(100, 0.0);
    double sign_sum = 0.0;
    for (const Scatterer& s : all) {
        const double across = (s.x_m / mm + 4.0) / 10.0;
        const double along = ((s.y_m / mm - 2.0) / std::cos(30.0 * degree) + 6.0) / 12.0;
        const auto bin = [](double part) { return std::min<std::size_t>(9, static_cast<std::size_t>(part * 10.0)); };
        counts[10 * bin(across) + bin(along)] += 1.0;
        sign_sum += s.strength_m > 0.0 ? 1.0 : -1.0;
    }
    double chi_square = 0.0;
    for (const double count : counts) {
        chi_square += (count - 600.0) * (count - 600.0) / 600.0;
    }
    // Chi-square of 99 degrees of freedom: standard deviation sqrt(2 * 99) = 14.1; four of those.
    EXPECT_NEAR(chi_square, 99.0, 4.0 * 14.1);
    EXPECT_LT(std::abs(sign_sum), 4.0 * std::sqrt(60'000.0));
}

TEST(Sheets, InAWindowAreASubsequenceOfAll) {
    const Phantom phantom = phantom_from(speckle + sheet);
    const std::vector<Scatterer> all = all_scatterers(phantom);
    std::mt19937 random(2);
    std::uniform_real_distribution<double> across(-6.0 * mm, 7.0 * mm);
    std::uniform_real_distribution<double> down(35.0 * mm, 45.0 * mm);
    for (int trial = 0; trial < 40; ++trial) {
        const Vec3 a(across(random), across(random), down(random));
        const Vec3 b(across(random), across(random), down(random));
        Box window{a.cwiseMin(b), a.cwiseMax(b)};
        if (trial % 3 == 0) {
            window.least.head<2>().setConstant(-infinite);
            window.most.head<2>().setConstant(infinite);
        }
        std::vector<Scatterer> expected;
        std::ranges::copy_if(all, std::back_inserter(expected), [&](const Scatterer& s) {
            const Vec3 place(s.x_m, s.y_m, s.z_m);
            return (place.array() >= window.least.array()).all() && (place.array() < window.most.array()).all();
        });
        EXPECT_TRUE(std::ranges::equal(scatterers_in(phantom, window), expected, same)) << "trial " << trial;
    }
}

TEST(Sheets, InTouchingLayersAreEachFoundOnce) {
    const Phantom phantom = phantom_from(sheet);
    std::size_t count = 0;
    for (int i = 0; i < 20; ++i) {
        const double top = (30.0 + i) * mm;
        count += scatterers_in(phantom, {Vec3(-infinite, -infinite, top), Vec3(infinite, infinite, top + mm)}).size();
    }
    EXPECT_EQ(count, phantom.candidate_count());
}

TEST(Sheets, MoveNothingElse) {
    const std::vector<Scatterer> alone = all_scatterers(phantom_from(speckle));
    const std::vector<Scatterer> together = all_scatterers(phantom_from(speckle + sheet));
    ASSERT_GT(together.size(), alone.size());
    EXPECT_TRUE(std::equal(alone.begin(), alone.end(), together.begin(), same));
    // Two sheets with the same keys are not the same scatterers.
    const std::vector<Scatterer> twice =
        all_scatterers(phantom_from(sheet + "[[sheet]]\n" + sheet.substr(sheet.find("center_mm"))));
    ASSERT_EQ(twice.size(), 12'000U);
    EXPECT_NE(twice[0].x_m, twice[6000].x_m);
    EXPECT_NE(all_scatterers(phantom_from(sheet))[0].x_m, all_scatterers(phantom_from(sheet, {{"seed", "8"}}))[0].x_m);
}

TEST(Sheets, HaveTheirBoxAndTruth) {
    const Phantom phantom = phantom_from(sheet, {{"sheet.0.tilt_deg", "-30"}});
    const Box bounds = phantom.bounds();
    const double rise = 6.0 * mm * std::sin(30.0 * degree);
    EXPECT_NEAR(bounds.least.x(), -4.0 * mm, 1e-15);
    EXPECT_NEAR(bounds.least.y(), 2.0 * mm - 6.0 * mm * std::cos(30.0 * degree), 1e-13);
    EXPECT_NEAR(bounds.least.z(), 40.0 * mm - rise, 1e-13);
    EXPECT_NEAR(bounds.most.z(), 40.0 * mm + rise, 1e-13);
    EXPECT_EQ(all_scatterers(phantom).size(), phantom.candidate_count());
    ASSERT_EQ(phantom.truth.sheets.size(), 1U);
    EXPECT_EQ(phantom.truth.sheets[0].name, "slope");
    EXPECT_TRUE(phantom.truth.sheets[0].center_m.isApprox(Vec3(1, 2, 40) * mm));
    EXPECT_DOUBLE_EQ(phantom.truth.sheets[0].half_width_m, 5.0 * mm);
    EXPECT_DOUBLE_EQ(phantom.truth.sheets[0].half_length_m, 6.0 * mm);
    EXPECT_DOUBLE_EQ(phantom.truth.sheets[0].tilt_rad, -30.0 * degree);
    EXPECT_TRUE(phantom.truth.regions.empty());
}

std::string error_with(const std::string& key, const std::string& value) {
    return message_of([&] { phantom_from(sheet, {{"sheet.0." + key, value}}); });
}

TEST(Sheets, AreRefused) {
    EXPECT_EQ(error_with("tilt_deg", "90"),
              "2 --set: sheet.0.tilt_deg: is 90; give a number from -85 to 85, in degrees");
    EXPECT_EQ(error_with("center_mm", "[0, 0, 2]"),
              "2 --set: sheet.0.center_mm: reaches up to z = -1 mm, but the array's face is at 0; keep everything "
              "deeper than that");
    EXPECT_EQ(
        error_with("size_mm", "[10, 4, 3]"),
        "2 --set: sheet.0.size_mm: holds 3 numbers; give a list of 2 numbers, each a number more than 0 and at most "
        "2000, in mm");
    EXPECT_EQ(error_with("size_mm", "[10, -4]"),
              "2 --set: sheet.0.size_mm: entry 1 is -4; give a number more than 0 and at most 2000, in mm");
    EXPECT_EQ(error_with("density_per_mm2", "0"),
              "2 --set: sheet.0.density_per_mm2: is 0; give a number more than 0 and at most 1000000, in per square "
              "millimetre");
    EXPECT_EQ(error_with("density_per_mm2", "1e-3"),
              "2 --set: sheet.0.density_per_mm2: puts no scatterer on this sheet; raise it, or enlarge the sheet");
    EXPECT_EQ(message_of([] {
                  phantom_from(sheet, {{"sheet.0.density_per_mm2", "1e6"}, {"sheet.0.size_mm", "[100, 50]"}});
              }),
              "2 --set: sheet.0.density_per_mm2: fills this sheet with 5000000000 scatterers; lower it, or shrink the "
              "sheet, to at most 500000000");
    EXPECT_EQ(error_with("density_per_mm3", "1"),
              "2 --set: sheet.0.density_per_mm3: unknown key, did you mean 'sheet.0.density_per_mm2'?");
    EXPECT_EQ(message_of([] { phantom_from(speckle + "name = 'slope'\n" + sheet); }),
              "2 test.toml:11: sheet.0.name: 'slope' is the name of another region, inclusion or sheet; give each its "
              "own");
}

}  // namespace
}  // namespace echoloom
