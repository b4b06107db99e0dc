#include <gtest/gtest.h>

#include "tests/base/message.h"
#include "tests/phantoms/phantom_text.h"

namespace echoloom {
namespace {

/// The message that a body ends in; its first line is line 4 of the file.
std::string error_of(const std::string& body) {
    return message_of([&] { phantom_from(body); });
}

std::string error_with(const std::string& body, const std::string& key, const std::string& value) {
    return message_of([&] { phantom_from(body, {{key, value}}); });
}

const std::string point = "[[point]]\nposition_mm = [0, 0, 30]\n";
const std::string wire = "[[wire]]\nposition_mm = [0, 30]\n";
const std::string speckle =
    "[[speckle]]\nshape = 'box'\ncenter_mm = [0, 0, 30]\nsize_mm = [10, 4, 20]\ndensity_per_mm3 = 10\n";
const std::string inclusion =
    "[[speckle.inclusion]]\nname = 'hole'\nshape = 'sphere'\ncenter_mm = [0, 0, 30]\ndiameter_mm = 3\n"
    "contrast_dB = -6\n";
const std::string layer =
    "[[layer]]\ntop_mm = 10\nbottom_mm = 20\nlateral_mm = [-5, 5]\nelevation_mm = [-2, 2]\ndensity_per_mm3 = 5\n";

TEST(BadInput, MediumIsRefused) {
    EXPECT_EQ(message_of([] { read_phantom(Settings::from_text("[[point]]\nposition_mm = [0, 0, 3]\n", "t.toml")); }),
              "2 t.toml: medium: missing; write a table [medium]");
    EXPECT_EQ(message_of([] { read_phantom(Settings::from_text("[medium]\n", "t.toml")); }),
              "2 t.toml:1: medium.sound_speed_m_s: missing; give a number from 100 to 10000, in m/s");
    EXPECT_EQ(error_with(point, "medium.sound_speed_m_s", "nan"),
              "2 --set: medium.sound_speed_m_s: is not a number (nan); give a number from 100 to 10000, in m/s");
    EXPECT_EQ(error_with(point, "medium.attenuation_dB_cm_MHz", "-0.5"),
              "2 --set: medium.attenuation_dB_cm_MHz: is -0.5; give a number from 0 to 100, in dB/(cm MHz)");
    EXPECT_EQ(error_with(point, "medium.attenuation_exponent", "3"),
              "2 --set: medium.attenuation_exponent: is 3; give a number from 0 to 2");
    EXPECT_EQ(error_with(point, "medium.dispersive", "1"), "2 --set: medium.dispersive: is 1; give true or false");
    EXPECT_EQ(error_with(point, "medium.sound_speed", "1540"),
              "2 --set: medium.sound_speed: unknown key, did you mean 'medium.sound_speed_m_s'?");
}

TEST(BadInput, PointsAreRefused) {
    EXPECT_EQ(
        error_of("[[point]]\n"),
        "2 test.toml:4: point.0.position_mm: missing; give a list of 3 numbers, each a number from -1000 to 1000, in "
        "mm");
    EXPECT_EQ(
        error_of("[[point]]\nposition_mm = [0, 30]\n"),
        "2 test.toml:5: point.0.position_mm: holds 2 numbers; give a list of 3 numbers, each a number from -1000 to "
        "1000, in mm");
    EXPECT_EQ(error_of("[[point]]\nposition_mm = [0, nan, 30]\n"),
              "2 test.toml:5: point.0.position_mm: entry 1 is not a number (nan); give a number from -1000 to 1000, in "
              "mm");
    EXPECT_EQ(
        error_of("[[point]]\nposition_mm = [0, 0, 0]\n"),
        "2 test.toml:5: point.0.position_mm: reaches up to z = 0 mm, but the array's face is at 0; keep everything "
        "deeper than that");
    EXPECT_EQ(
        error_of("[[point]]\nposition_mm = [0, 0, -3]\n"),
        "2 test.toml:5: point.0.position_mm: reaches up to z = -3 mm, but the array's face is at 0; keep everything "
        "deeper than that");
    EXPECT_EQ(error_of(point + "strength_db = 3\n"),
              "2 test.toml:6: point.0.strength_db: unknown key, did you mean 'strength_dB'?");
    EXPECT_EQ(error_of("[[ponit]]\nposition_mm = [0, 0, 30]\n" + wire),
              "2 test.toml:4: ponit: unknown key, did you mean 'point'?");
}

TEST(BadInput, WiresAreRefused) {
    EXPECT_EQ(error_with(wire, "wire.0.length_mm", "-1"),
              "2 --set: wire.0.length_mm: is -1; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(error_with(wire, "wire.0.point_spacing_mm", "0"),
              "2 --set: wire.0.point_spacing_mm: is 0; give a number from 0.001 to 1000, in mm");
    EXPECT_EQ(error_of(wire + "length_mm = 500\npoint_spacing_mm = 0.001\n"),
              "2 test.toml:7: wire.0.point_spacing_mm: cuts a wire into 500000 pieces; give at least 0.005 mm");
    EXPECT_EQ(
        error_of("[[wire]]\nposition_mm = [0, -1]\n"),
        "2 test.toml:5: wire.0.position_mm: reaches up to z = -1 mm, but the array's face is at 0; keep everything "
        "deeper than that");
}

TEST(BadInput, WireGroupsAreRefused) {
    const std::string group = "[[wire_group]]\nstart_mm = [0, 10]\n";
    EXPECT_EQ(error_of(group + "pattern = 'colum'\n"),
              "2 test.toml:6: wire_group.0.pattern: is the text \"colum\"; give one of \"column\", \"row\", \"grid\", "
              "\"arc\", \"axial_pairs\", \"lateral_pairs\"; did you mean 'column'?");
    EXPECT_EQ(error_of(group + "pattern = 'column'\nspacing_mm = 10\ncount = 0\n"),
              "2 test.toml:8: wire_group.0.count: is 0; give a whole number from 1 to 1000");
    EXPECT_EQ(
        error_of(group + "pattern = 'column'\nspacing_mm = 100\ncount = 12\n"),
        "2 test.toml:5: wire_group.0.start_mm: a wire would lie at x = 0 mm, z = 1010 mm; keep all within 1000 mm");
    EXPECT_EQ(error_of(group + "pattern = 'grid'\nspacing_mm = [1, 1]\ncount = [2.5, 3]\n"),
              "2 test.toml:8: wire_group.0.count: 2.5 is no count; give two whole numbers, lateral and in depth");
    EXPECT_EQ(error_of(group + "pattern = 'grid'\nspacing_mm = [0.5, 0.5]\ncount = [1000, 1000]\n"),
              "2 test.toml:8: wire_group.0.count: asks for 1000000 wires; give at most 10000 in all");
    EXPECT_EQ(error_of(group + "pattern = 'axial_pairs'\nspacings_mm = []\nstep_mm = [5, 0]\n"),
              "2 test.toml:7: wire_group.0.spacings_mm: is an empty list; give the distance within each pair");
    EXPECT_EQ(
        error_of(group + "pattern = 'lateral_pairs'\nspacings_mm = [1, 2]\nstep_mm = [0, -10]\n"),
        "2 test.toml:8: wire_group.0.step_mm: reaches up to z = 0 mm, but the array's face is at 0; keep everything "
        "deeper than that");
    EXPECT_EQ(error_of(group + "pattern = 'lateral_pairs'\nspacing_mm = [1, 2]\nstep_mm = [0, 10]\n"),
              "2 test.toml:7: wire_group.0.spacing_mm: unknown key, did you mean 'spacings_mm'?");
}

TEST(BadInput, ArcsAreRefused) {
    const std::string arc = "[[wire_group]]\npattern = 'arc'\nrange_mm = 50\ncount = 3\nmax_angle_deg = 30\n";
    EXPECT_EQ(error_with(arc, "wire_group.0.max_angle_deg", "95"),
              "2 --set: wire_group.0.max_angle_deg: is 95; give a number more than 0 and at most 90, in degrees");
    // 50 cos(30 deg) - 45 mm.
    EXPECT_EQ(
        error_with(arc, "wire_group.0.apex_mm", "[0, -45]"),
        "2 --set: wire_group.0.apex_mm: reaches up to z = -1.69873 mm, but the array's face is at 0; keep everything "
        "deeper than that");
    EXPECT_EQ(error_of(arc + "start_mm = [0, 10]\n").substr(0, 49),
              "2 test.toml:9: wire_group.0.start_mm: unknown key");
}

TEST(BadInput, RegionsAreRefused) {
    EXPECT_EQ(error_with(speckle, "speckle.0.shape", "cube"),
              "2 --set: speckle.0.shape: is the text \"cube\"; give one of \"box\", \"cylinder\", \"sphere\", "
              "\"ellipsoid\"");
    EXPECT_EQ(error_with(speckle, "speckle.0.size_mm", "[10, -4, 20]"),
              "2 --set: speckle.0.size_mm: entry 1 is -4; give a number more than 0 and at most 2000, in mm");
    EXPECT_EQ(
        error_with(speckle, "speckle.0.center_mm", "[0, 0, 10]"),
        "2 --set: speckle.0.center_mm: reaches up to z = 0 mm, but the array's face is at 0; keep everything deeper "
        "than that");
    EXPECT_EQ(error_with(speckle, "speckle.0.density_per_mm3", "-1"),
              "2 --set: speckle.0.density_per_mm3: is -1; give a number more than 0 and at most 1000000, in per cubic "
              "millimetre");
    EXPECT_EQ(
        error_with(speckle, "speckle.0.density_per_mm3", "1e6"),
        "2 --set: speckle.0.density_per_mm3: fills this region with 800000000 scatterers; lower it, or shrink the "
        "region, to at most 500000000");
    EXPECT_EQ(
        error_with(speckle, "speckle.0.density_per_mm3", "1e-4"),
        "2 --set: speckle.0.density_per_mm3: puts no scatterer into this region; raise it, or enlarge the region");
    EXPECT_EQ(
        error_with(speckle, "speckle.0.diameter_mm", "4"),
        "2 --set: speckle.0.diameter_mm: unknown key, choose from speckle.0.center_mm, speckle.0.density_per_cell, "
        "speckle.0.density_per_mm3, speckle.0.inclusion, speckle.0.name, speckle.0.shape, speckle.0.size_mm, "
        "speckle.0.strength_dB");
    EXPECT_EQ(
        error_of("[[speckle]]\nshape = 'sphere'\ncenter_mm = [0, 0, 30]\ndiameter_mm = 3\n"),
        "2 test.toml:4: speckle.0.density_per_mm3: missing; give a number more than 0 and at most 1000000, in per "
        "cubic millimetre");
    EXPECT_EQ(error_of("[[speckle]]\nshape = 'cylinder'\ncenter_mm = [0, 0, 30]\ndiameter_mm = 3\n"),
              "2 test.toml:4: speckle.0.length_mm: missing; give a number more than 0 and at most 2000, in mm");
    EXPECT_EQ(
        error_of(speckle + "name = 'a'\n" + speckle + "name = 'a'\n"),
        "2 test.toml:15: speckle.1.name: 'a' is the name of another region, inclusion or sheet; give each its own");
    EXPECT_EQ(error_of(speckle + "name = ''\n"),
              "2 test.toml:9: speckle.0.name: is empty; give a name, or leave the key out");
}

TEST(BadInput, DensitiesPerCellAreRefused) {
    const std::string region = "[[speckle]]\nshape = 'box'\ncenter_mm = [0, 0, 30]\nsize_mm = [10, 4, 20]\n";
    EXPECT_EQ(error_of(speckle + "density_per_cell = 10\n"),
              "2 test.toml:9: speckle.0.density_per_cell: goes against density_per_mm3; give one of the two");
    EXPECT_EQ(error_of(region + "density_per_cell = 10\n"),
              "2 test.toml:4: speckle.0.probe: missing; give a text in quotes");
    EXPECT_EQ(error_of(region + "density_per_cell = 10\nprobe = 'linear_5MHZ'\n"),
              "2 test.toml:9: speckle.0.probe: no shipped probe is called 'linear_5MHZ', did you mean 'linear_5MHz'?");
    EXPECT_EQ(
        error_of(region + "density_per_cell = 10\nprobe = 'absent.toml'\n"),
        "2 test.toml:9: speckle.0.probe: there is no file ./absent.toml; give a path from this file's folder, or a "
        "shipped name");
    EXPECT_EQ(error_of(region + "density_per_cell = 10\nprobe = 'linear_5MHz'\ncell_depth_mm = 40\n"),
              "2 test.toml:4: speckle.0.cell_f_number: missing; give a number from 0.1 to 100");
}

TEST(BadInput, InclusionsAreRefused) {
    EXPECT_EQ(
        error_with(speckle + inclusion, "speckle.0.inclusion.0.center_mm", "[4, 0, 30]"),
        "2 --set: speckle.0.inclusion.0.center_mm: the inclusion 'hole' sticks out of its region 'speckle 1'; move or "
        "shrink it");
    EXPECT_EQ(error_with(speckle + inclusion, "speckle.0.inclusion.0.anechoic", "true"),
              "2 test.toml:14: speckle.0.inclusion.0.contrast_dB: goes against anechoic = true; give one of the two");
    EXPECT_EQ(error_with(speckle + inclusion, "speckle.0.inclusion.0.contrast_dB", "inf"),
              "2 --set: speckle.0.inclusion.0.contrast_dB: is inf; give a number of at most 100, in dB");
    EXPECT_EQ(error_of(speckle + "[[speckle.inclusion]]\nshape = 'sphere'\ncenter_mm = [0, 0, 30]\ndiameter_mm = 3\n"),
              "2 test.toml:9: speckle.0.inclusion.0.contrast_dB: missing; give a number in dB, or anechoic = true");
    EXPECT_EQ(error_of(speckle + inclusion + "diametr_mm = 3\n"),
              "2 test.toml:15: speckle.0.inclusion.0.diametr_mm: unknown key, did you mean 'diameter_mm'?");
}

TEST(BadInput, LayersAreRefused) {
    EXPECT_EQ(error_with(layer, "layer.0.top_mm", "0"),
              "2 --set: layer.0.top_mm: is 0; give a number more than 0 and at most 1000, in mm");
    EXPECT_EQ(error_with(layer, "layer.0.bottom_mm", "8"),
              "2 --set: layer.0.bottom_mm: is 8, not below the top at 10 mm; give a greater depth");
    EXPECT_EQ(error_with(layer, "layer.0.lateral_mm", "[5, -5]"),
              "2 --set: layer.0.lateral_mm: runs from 5 to -5 mm; give the lesser value first");
    EXPECT_EQ(error_with(layer, "layer.0.elevation_mm", "[2, 2]"),
              "2 --set: layer.0.elevation_mm: runs from 2 to 2 mm; give the lesser value first");
}

TEST(BadInput, WholePhantomsAreRefused) {
    EXPECT_EQ(
        error_of(""),
        "2 test.toml: nothing scatters here; add a [[point]], [[wire]], [[wire_group]], [[speckle]], [[layer]] or "
        "[[sheet]]");
    const std::string dense =
        "[[layer]]\ntop_mm = 10\nbottom_mm = 20\nlateral_mm = [-50, 50]\n"
        "elevation_mm = [-20, 20]\ndensity_per_mm3 = 10000\n";
    EXPECT_EQ(error_of(dense + dense),
              "2 test.toml: holds 800000000 scatterers; lower densities or sizes, to at most 500000000");
    EXPECT_EQ(error_with(point, "seed", "-1"), "2 --set: seed: is -1; give a whole number from 0 to 9007199254740992");
    EXPECT_EQ(message_of([] { load_phantom("wire_lader"); }),
              "2 no shipped phantom is called 'wire_lader', did you mean 'wire_ladder'?");
    EXPECT_EQ(message_of([] { load_phantom("./nowhere.toml"); }).substr(0, 2), "2 ");
}

}  // namespace
}  // namespace echoloom
