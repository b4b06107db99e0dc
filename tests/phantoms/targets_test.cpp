#include <gtest/gtest.h>

#include <cmath>

#include "tests/phantoms/phantom_text.h"

namespace echoloom {
namespace {

/// Where the truth says the wires are, as (x, z) in mm rounded to a nanometre.
std::vector<std::pair<double, double>> places_mm(const Phantom& phantom) {
    std::vector<std::pair<double, double>> places;
    for (const TruePoint& point : phantom.truth.points) {
        EXPECT_EQ(point.position_m.y(), 0.0);
        places.emplace_back(std::round(point.position_m.x() * 1e9) / 1e6, std::round(point.position_m.z() * 1e9) / 1e6);
    }
    return places;
}

using Places = std::vector<std::pair<double, double>>;

TEST(Points, StandWhereToldAndAsStrong) {
    const Phantom phantom = phantom_from(
        "[[point]]\nposition_mm = [1.0, -2.0, 30.0]\nstrength_dB = -20.0\n[[point]]\nposition_mm = [0, 0, 5]\n");
    const std::vector<Scatterer> all = all_scatterers(phantom);
    ASSERT_EQ(all.size(), 2U);
    EXPECT_DOUBLE_EQ(all[0].x_m, 1.0 * mm);
    EXPECT_DOUBLE_EQ(all[0].y_m, -2.0 * mm);
    EXPECT_DOUBLE_EQ(all[0].z_m, 30.0 * mm);
    EXPECT_DOUBLE_EQ(all[0].strength_m, 0.1 * mm);
    EXPECT_DOUBLE_EQ(all[1].strength_m, 1.0 * mm);
    ASSERT_EQ(phantom.truth.points.size(), 2U);
    EXPECT_EQ(phantom.truth.points[0].position_m, Vec3(1.0 * mm, -2.0 * mm, 30.0 * mm));
    EXPECT_DOUBLE_EQ(phantom.truth.points[0].strength_m, 0.1 * mm);
}

// The strength of a wire is per mm, so that neither its length nor its sampling changes how bright a piece of it is.
TEST(Wires, AreAsStrongPerMillimetreAtAnySpacing) {
    for (const std::string spacing : {"0.1", "0.03", "0.5", "7"}) {
        const Phantom phantom =
            phantom_from("[[wire]]\nposition_mm = [2.0, 30.0]\nlength_mm = 12.0\nstrength_dB = -6.0\n",
                         {{"wire.0.point_spacing_mm", spacing}});
        const std::vector<Scatterer> all = all_scatterers(phantom);
        double sum = 0.0;
        double mean_y = 0.0;
        for (std::size_t i = 0; i < all.size(); ++i) {
            sum += all[i].strength_m;
            mean_y += all[i].y_m;
            EXPECT_LT(std::abs(all[i].y_m), 6.0 * mm);
            EXPECT_DOUBLE_EQ(all[i].x_m, 2.0 * mm);
            EXPECT_DOUBLE_EQ(all[i].z_m, 30.0 * mm);
            if (i > 0) {
                EXPECT_LE(all[i].y_m - all[i - 1].y_m, std::stod(spacing) * mm * (1.0 + 1e-9));
            }
        }
        EXPECT_NEAR(sum, 12.0 * std::pow(10.0, -6.0 / 20.0) * mm, 1e-12) << spacing;
        EXPECT_NEAR(mean_y, 0.0, 1e-12);
        EXPECT_EQ(all.size(), static_cast<std::size_t>(std::ceil(12.0 / std::stod(spacing) - 1e-9)));
        EXPECT_DOUBLE_EQ(phantom.truth.points.at(0).strength_m, std::pow(10.0, -6.0 / 20.0) * mm);
    }
}

TEST(Wires, AreTwoHundredPointsUnlessToldOtherwise) {
    const Phantom phantom = phantom_from("[[wire]]\nposition_mm = [0, 30]\n");
    EXPECT_EQ(phantom.candidate_count(), 200U);
    EXPECT_DOUBLE_EQ(phantom.bounds().least.y(), -10.0 * mm);
}

TEST(WireGroups, AreColumnsRowsAndGrids) {
    EXPECT_EQ(places_mm(phantom_from("[[wire_group]]\npattern = 'column'\nstart_mm = [1, 10]\nspacing_mm = 5\n"
                                     "count = 3\n")),
              (Places{{1, 10}, {1, 15}, {1, 20}}));
    EXPECT_EQ(places_mm(phantom_from("[[wire_group]]\npattern = 'row'\nstart_mm = [-1.5, 10]\nspacing_mm = 0.5\n"
                                     "count = 3\n")),
              (Places{{-1.5, 10}, {-1, 10}, {-0.5, 10}}));
    EXPECT_EQ(places_mm(phantom_from("[[wire_group]]\npattern = 'grid'\nstart_mm = [-2, 10]\nspacing_mm = [4, 5]\n"
                                     "count = [2, 3]\n")),
              (Places{{-2, 10}, {2, 10}, {-2, 15}, {2, 15}, {-2, 20}, {2, 20}}));
}

TEST(WireGroups, ArePairs) {
    const std::string keys = "start_mm = [-5, 20]\nspacings_mm = [2, 0.5]\nstep_mm = [8, 1]\n";
    EXPECT_EQ(places_mm(phantom_from("[[wire_group]]\npattern = 'axial_pairs'\n" + keys)),
              (Places{{-5, 20}, {-5, 22}, {3, 21}, {3, 21.5}}));
    EXPECT_EQ(places_mm(phantom_from("[[wire_group]]\npattern = 'lateral_pairs'\n" + keys)),
              (Places{{-5, 20}, {-3, 20}, {3, 21}, {3.5, 21}}));
}

TEST(WireGroups, AreArcsAboutAPoint) {
    const std::string arc = "[[wire_group]]\npattern = 'arc'\nrange_mm = 50\ncount = 3\nmax_angle_deg = 30\n";
    const double aside = std::round(50.0 * std::sqrt(0.75) * 1e6) / 1e6;
    EXPECT_EQ(places_mm(phantom_from(arc)), (Places{{-25, aside}, {0, 50}, {25, aside}}));
    EXPECT_EQ(places_mm(phantom_from(arc + "apex_mm = [1, -8]\n")),
              (Places{{-24, aside - 8.0}, {1, 42}, {26, aside - 8.0}}));
    EXPECT_EQ(places_mm(phantom_from("[[wire_group]]\npattern = 'arc'\nrange_mm = 50\ncount = 1\n")),
              (Places{{0, 50}}));
}

TEST(Truth, OutlinesRegionsAndWhatIsInside) {
    const Phantom phantom = phantom_from(
        "[[speckle]]\nname = 'ground'\nshape = 'box'\ncenter_mm = [0, 0, 30]\nsize_mm = [20, 4, 20]\n"
        "density_per_mm3 = 1\n"
        "[[speckle.inclusion]]\nname = 'hole'\nshape = 'cylinder'\ncenter_mm = [2, 0, 28]\ndiameter_mm = 6\n"
        "anechoic = true\n"
        "[[speckle.inclusion]]\nshape = 'sphere'\ncenter_mm = [-5, 0, 28]\ndiameter_mm = 3\ncontrast_dB = 3.5\n"
        "[[layer]]\ntop_mm = 50\nbottom_mm = 60\nlateral_mm = [-4, 8]\nelevation_mm = [-1, 3]\ndensity_per_mm3 = 2\n");
    ASSERT_EQ(phantom.truth.regions.size(), 4U);
    const TrueRegion& ground = phantom.truth.regions[0];
    EXPECT_EQ(ground.name, "ground");
    EXPECT_FALSE(ground.inclusion);
    EXPECT_EQ(ground.contrast_dB, 0.0);
    const TrueRegion& hole = phantom.truth.regions[1];
    EXPECT_EQ(hole.name, "hole");
    EXPECT_TRUE(hole.inclusion);
    EXPECT_EQ(hole.shape, RegionShape::cylinder);
    EXPECT_TRUE(std::isinf(hole.contrast_dB) && hole.contrast_dB < 0.0);
    EXPECT_TRUE(hole.center_m.isApprox(Vec3(2, 0, 28) * mm));
    EXPECT_TRUE(hole.half_size_m.isApprox(Vec3(3, 2, 3) * mm));
    EXPECT_EQ(phantom.truth.regions[2].name, "ground inclusion 2");
    EXPECT_EQ(phantom.truth.regions[2].contrast_dB, 3.5);
    const TrueRegion& layer = phantom.truth.regions[3];
    EXPECT_EQ(layer.name, "layer 1");
    EXPECT_TRUE(layer.center_m.isApprox(Vec3(2, 1, 55) * mm));
    EXPECT_TRUE(layer.half_size_m.isApprox(Vec3(6, 2, 5) * mm));
    EXPECT_TRUE(phantom.truth.points.empty());
}

}  // namespace
}  // namespace echoloom
