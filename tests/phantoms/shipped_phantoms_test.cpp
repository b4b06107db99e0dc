#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numbers>
#include <set>

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
    for (const double contrast : {-15.0, -6.0, -3.0, 3.0, 6.0, 12.0}) {
        EXPECT_EQ(depths[contrast].size(), 3U) << contrast;
    }
    EXPECT_TRUE(std::isinf(depths.begin()->first));
    EXPECT_EQ(depths.begin()->second.size(), 3U);
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

TEST(ShippedPhantoms, TeachingBlockHasAClearWindowAndItsWiresUnderTheArray) {
    const Phantom block = load_phantom("teaching_block");
    EXPECT_NEAR(static_cast<double>(block.candidate_count()), 200'000.0, 10'000.0);
    std::set<double> wires_mm;
    for (const Scatterer& s : all_scatterers(block)) {
        EXPECT_LT(std::abs(s.x_m), 28.65 * mm);
        EXPECT_LE(s.z_m, 82.0 * mm);
        if (s.x_m < -4.0 * mm) {
            wires_mm.insert(std::round(s.x_m * 1e6) / 1e3);
        }
    }
    EXPECT_EQ(wires_mm, (std::set<double>{-15.0, -10.0, -8.5, -7.0}));
}

}  // namespace
}  // namespace echoloom
