#include "sim/array/face.h"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/array/scan_examples.h"

namespace echoloom {
namespace {

std::string error(const std::string& text, std::vector<Override> overrides = {}) {
    return message_of([&] { probe_from(text, std::move(overrides)); });
}

// ---- curved ------------------------------------------------------------------------------------------------------

TEST(CurvedFace, LiesOnItsArcAndLooksOutwards) {
    const Probe probe = probe_from(curved);
    EXPECT_EQ(probe.kind, "curved");
    EXPECT_DOUBLE_EQ(probe.radius_m, 40e-3);
    EXPECT_DOUBLE_EQ(probe.pitch_m, 0.5e-3);
    ASSERT_EQ(probe.elements.size(), 65U);
    const Vec3 middle(0.0, 0.0, -40e-3);
    for (const Element& element : probe.elements) {
        EXPECT_NEAR((element.center_m - middle).norm(), 40e-3, 1e-16);
        EXPECT_NEAR((element.normal - (element.center_m - middle) / 40e-3).norm(), 0.0, 1e-13);
        EXPECT_EQ(element.center_m.y(), 0.0);
        EXPECT_DOUBLE_EQ(element.width_m, 0.45e-3);
        EXPECT_DOUBLE_EQ(element.height_m, 10e-3);
        EXPECT_FALSE(element.is_ring());
    }
    EXPECT_NEAR(probe.elements[32].center_m.norm(), 0.0, 1e-18);
    EXPECT_NEAR((probe.elements[32].normal - Vec3::UnitZ()).norm(), 0.0, 1e-16);
}

TEST(CurvedFace, IsDividedEquallyAlongTheArc) {
    const Probe probe = probe_from(curved);
    for (std::size_t i = 1; i < probe.elements.size(); ++i) {
        const double turn = std::acos(probe.elements[i].normal.dot(probe.elements[i - 1].normal));
        EXPECT_NEAR(turn * 40e-3, 0.5e-3, 1e-9);
        EXPECT_NEAR(face_lateral_m(probe, probe.elements[i].center_m), (static_cast<double>(i) - 32.0) * 0.5e-3, 1e-16);
    }
    EXPECT_DOUBLE_EQ(half_face_m(probe), 16.25e-3);
    EXPECT_EQ(column_count(probe), 65);
}

TEST(CurvedFace, PlacesAndArcLengthsAreInverse) {
    const Probe probe = probe_from(curved);
    for (int step = -20; step <= 20; ++step) {
        const double lateral_m = step * 0.8e-3;
        const FacePlace place = face_place(probe, lateral_m);
        EXPECT_NEAR(face_lateral_m(probe, place.origin_m), lateral_m, 1e-16);
        // A point straight out from a place has that place below it.
        EXPECT_NEAR(face_lateral_m(probe, place.origin_m + 50e-3 * place.normal), lateral_m, 1e-16);
        EXPECT_NEAR(place.normal.norm(), 1.0, 1e-15);
    }
    const Probe flat = probe_of(8);
    EXPECT_EQ(face_lateral_m(flat, Vec3(3e-3, 0.0, 20e-3)), 3e-3);
    EXPECT_EQ(face_place(flat, 3e-3).origin_m, Vec3(3e-3, 0.0, 0.0));
    EXPECT_EQ(face_place(flat, 3e-3).normal, Vec3::UnitZ());
}

TEST(CurvedFace, OfALargeRadiusIsFlat) {
    const Probe probe = probe_from(curved, {{"radius_mm", "1000"}});
    for (const Element& element : probe.elements) {
        // Sagitta x^2 / 2 R = 16^2 / 2000 mm.
        EXPECT_LE(element.center_m.z(), 0.0);
        EXPECT_GE(element.center_m.z(), -0.1281e-3);
    }
}

TEST(CurvedFace, IsRefusedBeyondHalfATurnOrWithoutARadius) {
    EXPECT_EQ(error(curved, {{"radius_mm", "10"}}),
              "2 --set: radius_mm: bends the array by 186 degrees; give a radius of at least 10.4 mm, which is half a "
              "turn");
    EXPECT_EQ(error(curved, {{"radius_mm", "10.4"}}), "no error");
    EXPECT_EQ(error(curved, {{"radius_mm", "-40"}}),
              "2 --set: radius_mm: is -40; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(error(curved, {{"kind", "linear"}}).substr(0, 41), "2 bench.toml:6: radius_mm: unknown key, c");
    EXPECT_EQ(error("kind = 'curved'\nelements = 65\npitch_mm = 0.5\nwidth_mm = 0.45\nheight_mm = 10\n" + at_5_MHz),
              "2 bench.toml: radius_mm: missing; give a number more than 0 and at most 1000, in mm");
}

// ---- rows --------------------------------------------------------------------------------------------------------

TEST(RowFace, IsCutIntoRowsAlongElevation) {
    const Probe probe = probe_from(rows);
    EXPECT_EQ(probe.kind, "rows");
    EXPECT_EQ(probe.rows, 5);
    ASSERT_EQ(probe.elements.size(), 160U);
    EXPECT_EQ(column_count(probe), 32);
    EXPECT_TRUE(std::isinf(probe.elevation_focus_m));
    for (std::size_t column = 0; column < 32; ++column) {
        for (std::size_t row = 0; row < 5; ++row) {
            const Element& element = probe.elements[5 * column + row];
            EXPECT_NEAR(element.center_m.x(), (static_cast<double>(column) - 15.5) * 0.3e-3, 1e-17);
            EXPECT_NEAR(element.center_m.y(), (static_cast<double>(row) - 2.0) * 1.6e-3, 1e-17);
            EXPECT_EQ(element.center_m.z(), 0.0);
            EXPECT_DOUBLE_EQ(element.height_m, 1.5e-3);
        }
    }
}

TEST(RowFace, IsRefusedWhereRowsOverlapOrAreTooMany) {
    EXPECT_EQ(error(rows, {{"height_mm", "1.7"}}),
              "2 --set: height_mm: the rows overlap: 1.7 mm high, 1.6 mm apart; give at most row_pitch_mm");
    EXPECT_EQ(error(rows, {{"elements", "256"}}),
              "2 bench.toml:5: rows: makes 1280 elements in all; give at most 1024");
    EXPECT_EQ(error(rows, {{"rows", "1"}}), "2 --set: rows: is 1; give a whole number from 2 to 16");
    EXPECT_EQ(error(rows, {{"elevation_focus_mm", "40"}}),
              "2 --set: elevation_focus_mm: rows focus along elevation by their own delays; remove this key");
    EXPECT_EQ(error(rows, {{"width_mm", "0.31"}}),
              "2 --set: width_mm: the elements overlap: 0.31 mm wide, 0.3 mm apart; give at most the pitch");
}

// ---- rings -------------------------------------------------------------------------------------------------------

double area_of(const Element& ring) {
    return std::numbers::pi * (ring.outer_m * ring.outer_m - ring.inner_m * ring.inner_m);
}

TEST(RingFace, SharesTheDiscEqually) {
    const Probe probe = probe_from(rings, {{"kerf_mm", "0"}});
    ASSERT_EQ(probe.elements.size(), 6U);
    EXPECT_EQ(probe.elements.front().inner_m, 0.0);
    EXPECT_DOUBLE_EQ(probe.elements.back().outer_m, 7e-3);
    for (std::size_t i = 0; i < 6; ++i) {
        EXPECT_TRUE(probe.elements[i].is_ring());
        EXPECT_NEAR(area_of(probe.elements[i]), std::numbers::pi * 49e-6 / 6.0, 1e-18);
        EXPECT_EQ(probe.elements[i].center_m, Vec3(0.0, 0.0, 0.0));
        EXPECT_DOUBLE_EQ(probe.elements[i].width_m, 2.0 * probe.elements[i].outer_m);
        EXPECT_DOUBLE_EQ(probe.elements[i].height_m, 2.0 * probe.elements[i].outer_m);
        if (i > 0) {
            EXPECT_EQ(probe.elements[i].inner_m, probe.elements[i - 1].outer_m);
        }
    }
}

TEST(RingFace, GapsAreTakenFromBothSides) {
    const Probe probe = probe_from(rings);
    for (std::size_t i = 1; i < 6; ++i) {
        EXPECT_NEAR(probe.elements[i].inner_m - probe.elements[i - 1].outer_m, 0.1e-3, 1e-17);
        const double border_m = 7e-3 * std::sqrt(static_cast<double>(i) / 6.0);
        EXPECT_NEAR(0.5 * (probe.elements[i].inner_m + probe.elements[i - 1].outer_m), border_m, 1e-17);
    }
    EXPECT_DOUBLE_EQ(probe.elements.back().outer_m, 7e-3);
}

TEST(RingFace, RadiusOfARingHalvesItsArea) {
    for (const Element& ring : probe_from(rings).elements) {
        Element inner_half = ring;
        inner_half.outer_m = ring_radius_m(ring);
        EXPECT_NEAR(area_of(inner_half), 0.5 * area_of(ring), 1e-18);
    }
}

TEST(RingFace, TakesGivenEdges) {
    const std::string given = "kind = 'annular'\nring_edges_mm = [0, 2, 2, 3, 3.5, 4]\n" + at_5_MHz;
    const Probe probe = probe_from(given);
    ASSERT_EQ(probe.elements.size(), 3U);
    EXPECT_DOUBLE_EQ(probe.elements[2].inner_m, 3.5e-3);
    EXPECT_DOUBLE_EQ(probe.elements[2].outer_m, 4e-3);
    EXPECT_EQ(error(given, {{"ring_edges_mm", "[0, 2, 1.5, 3]"}}),
              "2 --set: ring_edges_mm: entry 2 is 1.5; give radii that rise from ring to ring");
    EXPECT_EQ(error(given, {{"ring_edges_mm", "[0, 2, 2, 2]"}}),
              "2 --set: ring_edges_mm: entry 3 is 2; give radii that rise from ring to ring");
    EXPECT_EQ(
        error(given, {{"ring_edges_mm", "[0, 2, 3]"}}),
        "2 --set: ring_edges_mm: holds 3 numbers; give the inner and outer radius of each ring, for 1 to 32 rings");
    EXPECT_EQ(error(given, {{"rings", "3"}}), "2 --set: rings: given beside ring_edges_mm; keep one of the two");
    EXPECT_EQ(error("kind = 'annular'\n" + at_5_MHz),
              "2 bench.toml: rings: missing; give rings (of equal area) or ring_edges_mm");
}

TEST(RingFace, IsRefusedInASoftBaffleOrWhereGapsSwallowARing) {
    EXPECT_EQ(error(rings, {{"baffle", "soft"}}),
              "2 --set: baffle: rings are computed in a rigid baffle; give \"rigid\" or remove the key");
    // The outermost ring is 7 (1 - sqrt(5/6)) = 0.6099 mm wide.
    EXPECT_EQ(error(rings, {{"kerf_mm", "0.61"}}),
              "2 --set: kerf_mm: is 0.61, and the outermost ring is only 0.609 mm wide; give less");
    EXPECT_EQ(error(rings, {{"kerf_mm", "0.6"}}), "no error");
    EXPECT_EQ(error(rings, {{"rings", "0"}}), "2 --set: rings: is 0; give a whole number from 1 to 32");
}

}  // namespace
}  // namespace echoloom
