#include "phantoms/resolution_cell.h"

#include <gtest/gtest.h>

#include "tests/base/temporary_folder.h"
#include "tests/phantoms/phantom_text.h"

namespace echoloom {
namespace {

// A height of 6 mm at 24 mm is an F-number of 4 along elevation.
const std::string probe_text =
    "kind = 'linear'\nelements = 128\npitch_mm = 0.3\nwidth_mm = 0.27\nheight_mm = 6.0\ncenter_MHz = 5.0\n"
    "bandwidth_percent = 60.0\n";

// A worked example of our own: 5 MHz, F-number 2 across and 4 along elevation, bandwidth 60 %. The factors follow from
// the rectangular aperture's sinc and the Gaussian pulse (B. D. Steinberg, Principles of Aperture and Array System
// Design, 1976, from memory; the numbers recomputed by tests/published/recompute_speckle.py).
TEST(ResolutionCell, IsThatOfTheWorkedExample) {
    const ResolutionCell cell =
        resolution_cell(read_probe(Settings::from_text(probe_text, "probe.toml")), 1540.0, 24.0 * mm, 2.0);
    EXPECT_NEAR(cell.lateral_m, 0.5457 * mm, 5e-5 * mm);
    EXPECT_NEAR(cell.elevation_m, 1.0914 * mm, 5e-5 * mm);
    EXPECT_NEAR(cell.axial_m, 0.2265 * mm, 5e-5 * mm);
    EXPECT_NEAR(cell.volume_mm3(), 0.13491, 5e-6);
}

// Ten in that cell: 10 / 0.13491 mm^3.
TEST(ResolutionCell, GivesADensityByAProbeBesideThePhantom) {
    const TemporaryFolder folder;
    folder.write("probe.toml", probe_text);
    const std::string path = folder.write(
        "phantom.toml",
        "[medium]\nsound_speed_m_s = 1540\n[[speckle]]\nshape = 'box'\ncenter_mm = [0, 0, 24]\nsize_mm = [10, 4, 10]\n"
        "density_per_cell = 10\nprobe = 'probe.toml'\ncell_depth_mm = 24\ncell_f_number = 2\n");
    EXPECT_NEAR(load_phantom(path).regions.at(0).density_per_mm3, 74.1, 0.05);
}

}  // namespace
}  // namespace echoloom
