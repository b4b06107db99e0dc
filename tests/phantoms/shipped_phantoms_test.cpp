#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "sim/array/face.h"
#include "sim/base/shipped.h"
#include "tests/phantoms/phantom_text.h"

namespace echoloom {
namespace {

TEST(ShippedPhantoms, LoadAndHoldWhatTheyPromise) {
    struct Promise {
        std::size_t points;
        std::size_t regions;
        std::size_t inclusions;
        std::size_t sheets = 0;
    };
    const std::map<std::string, Promise> promises = {
        {"contrast_cysts", {0, 1, 21}},    {"resolution_pairs", {40, 0, 0}}, {"single_point", {1, 0, 0}},
        {"speckle_slab", {0, 1, 0}},       {"teaching_block", {11, 1, 9}},   {"three_layers", {0, 3, 1}},
        {"inclined_sheets", {0, 0, 0, 5}}, {"motion_target", {1, 0, 0}},     {"ring_targets", {19, 1, 1}},
        {"sector_points", {28, 0, 0}},     {"slice_cysts", {0, 1, 12}},      {"zones_speckle", {13, 1, 0}},
        {"wire_grid", {40, 0, 0}},         {"wire_ladder", {12, 0, 0}},
    };
    const std::vector<std::string> names = shipped_names(ShippedKind::phantom);
    EXPECT_EQ(names.size(), promises.size());
    for (const std::string& name : names) {
        ASSERT_TRUE(promises.contains(name)) << name;
        const Promise& promise = promises.at(name);
        const Phantom phantom = load_phantom(name);
        EXPECT_EQ(phantom.name, name);
        EXPECT_EQ(phantom.truth.points.size(), promise.points) << name;
        EXPECT_EQ(phantom.regions.size(), promise.regions) << name;
        EXPECT_EQ(phantom.truth.regions.size(), promise.regions + promise.inclusions) << name;
        EXPECT_EQ(phantom.truth.sheets.size(), promise.sheets) << name;
        EXPECT_EQ(all_scatterers(phantom).empty(), false) << name;
        EXPECT_LE(phantom.candidate_count(), 400'000U) << name;
    }
}

TEST(ShippedPhantoms, LadderReachesFrom10To120Millimetres) {
    const Phantom ladder = load_phantom("wire_ladder");
    EXPECT_DOUBLE_EQ(ladder.medium.attenuation_dB_cm_MHz, 0.5);
    for (std::size_t i = 0; i < 12; ++i) {
        EXPECT_NEAR(ladder.truth.points.at(i).position_m.z(), static_cast<double>(10 * (i + 1)) * mm, 1e-12);
        EXPECT_EQ(ladder.truth.points[i].position_m.x(), 0.0);
    }
}

TEST(ShippedPhantoms, CystsSpanTheContrasts) {
    std::map<double, std::set<double>> depths;
    for (const TrueRegion& region : load_phantom("contrast_cysts").truth.regions) {
        if (region.inclusion) {
            depths[region.contrast_dB].insert(region.center_m.z());
        }
    }
    EXPECT_EQ(depths.size(), 7U);
    for (const double contrast : {-16.0, -12.0, -8.0, -4.0, 4.0, 8.0}) {
        EXPECT_EQ(depths[contrast].size(), 3U) << contrast;
    }
    EXPECT_TRUE(std::isinf(depths.begin()->first));
    EXPECT_EQ(depths.begin()->second.size(), 3U);
}

// What a contrast is measured against lies within 1.6 radii of a disc's middle, as far as no other disc is there.
TEST(ShippedPhantoms, DiscsLieApartAndInsideTheirSpeckle) {
    for (const char* name : {"contrast_cysts", "teaching_block", "slice_cysts"}) {
        const std::vector<TrueRegion> regions = load_phantom(name).truth.regions;
        const TrueRegion& speckle = regions.front();
        for (std::size_t i = 1; i < regions.size(); ++i) {
            const TrueRegion& disc = regions[i];
            const double radius = disc.half_size_m.x();
            EXPECT_LE(std::abs(disc.center_m.x() - speckle.center_m.x()) + radius, speckle.half_size_m.x() - 0.4 * mm)
                << disc.name;
            EXPECT_LE(std::abs(disc.center_m.z() - speckle.center_m.z()) + radius, speckle.half_size_m.z() - 0.4 * mm)
                << disc.name;
            for (std::size_t j = i + 1; j < regions.size(); ++j) {
                EXPECT_GE((disc.center_m - regions[j].center_m).norm() - radius - regions[j].half_size_m.x(), 1.5 * mm)
                    << disc.name << ", " << regions[j].name;
            }
        }
    }
}

TEST(ShippedPhantoms, SectorPointsStandEvery15DegreesTo60) {
    std::map<double, std::set<double>> angles;
    for (const TruePoint& point : load_phantom("sector_points").truth.points) {
        const double range_mm = std::round(point.position_m.norm() * 1e6) / 1e3;
        angles[range_mm].insert(
            std::round(std::atan2(point.position_m.x(), point.position_m.z()) * 1800.0 / std::numbers::pi) / 10.0);
    }
    for (const double range_mm : {30.0, 55.0, 80.0}) {
        EXPECT_EQ(angles[range_mm], (std::set<double>{-60, -45, -30, -15, 0, 15, 30, 45, 60})) << range_mm;
    }
}

TEST(ShippedPhantoms, SheetsDoNotOverlapInDepth) {
    double bottom_m = 0.0;
    for (const Sheet& sheet : load_phantom("inclined_sheets").sheets) {
        EXPECT_GT(sheet.box().least.z(), bottom_m) << sheet.name;
        bottom_m = sheet.box().most.z();
        EXPECT_NEAR(sheet.tilt_rad, 0.25 * std::numbers::pi, 1e-12);
    }
}

// The engine of moving heads computes every line anew.
TEST(ShippedPhantoms, OfTurnedHeadsAreSmall) {
    EXPECT_LE(load_phantom("ring_targets").candidate_count(), 20'000U);
    EXPECT_EQ(load_phantom("motion_target").candidate_count(), 1U);
    for (const TruePoint& point : load_phantom("ring_targets").truth.points) {
        const double angle_deg =
            std::atan2(point.position_m.x(), point.position_m.z() + 8.0 * mm) * 180.0 / std::numbers::pi;
        EXPECT_NEAR(angle_deg / 15.0, std::round(angle_deg / 15.0), 1e-3);
    }
}

TEST(ShippedPhantoms, TeachingBlockHasAClearPartAndLiesUnderTheArray) {
    const Phantom block = load_phantom("teaching_block");
    const Probe array = load_probe("linear_5MHz");
    const TrueRegion& speckle = block.truth.regions.front();
    const double left_m = speckle.center_m.x() - speckle.half_size_m.x();
    for (const Scatterer& s : all_scatterers(block)) {
        EXPECT_LT(std::abs(s.x_m), half_face_m(array));
        EXPECT_LE(s.z_m, 82.0 * mm);
    }
    // Wires stand 3 mm and more from the speckle; one every 10 mm of depth, each under a whole aperture of 64 elements,
    // and two by two straight below each other.
    std::map<double, double> x_mm_at;
    std::map<double, std::set<double>> depths_at_x;
    for (const TruePoint& wire : block.truth.points) {
        EXPECT_LE(wire.position_m.x(), left_m - 3.0 * mm);
        const double depth_mm = std::round(wire.position_m.z() / mm);
        if (wire.position_m.z() == 23.0 * mm) {
            continue;
        }
        EXPECT_TRUE(x_mm_at.emplace(depth_mm, wire.position_m.x() / mm).second) << depth_mm;
        depths_at_x[std::round(wire.position_m.x() * 1e6)].insert(depth_mm);
        EXPECT_LE(std::abs(wire.position_m.x()) + 32.0 * array.pitch_m, half_face_m(array)) << depth_mm;
    }
    ASSERT_EQ(x_mm_at.size(), 8U);
    for (int n = 1; n <= 8; ++n) {
        EXPECT_TRUE(x_mm_at.contains(10.0 * n));
    }
    EXPECT_EQ(depths_at_x.size(), 4U);
    for (const auto& [x, depths] : depths_at_x) {
        EXPECT_EQ(depths.size(), 2U) << x;
    }
}

}  // namespace
}  // namespace echoloom
