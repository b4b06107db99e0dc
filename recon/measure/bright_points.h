#pragma once
/// Bright points without a known truth: peaks of an image that stand out from their surroundings.

#include <limits>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

/// A rectangle of the image plane.
struct PlaneBox {
    double from_x_m = -std::numeric_limits<double>::infinity(), to_x_m = std::numeric_limits<double>::infinity();
    double from_z_m = -std::numeric_limits<double>::infinity(), to_z_m = std::numeric_limits<double>::infinity();

    bool holds(double x_m, double z_m) const {
        return x_m >= from_x_m && x_m <= to_x_m && z_m >= from_z_m && z_m <= to_z_m;
    }
};

/// Places of peaks in a box, brightest first, at most so many: each the highest within 1.5 cells, 3.3 times the
/// 90th percentile of its surroundings (uniform speckle reaches that once in 10^11 cells, speckle that fills half
/// of them once in 10^7), within 40 dB of the brightest, and not a side lobe of a brighter one: within 20 lateral and 8
/// axial widths it must exceed a quarter of it. A cell is the theoretical size of a point in focus.
std::vector<Vec3> find_bright_points(const Image& image, const PlaneBox& box = {}, std::size_t max_count = 64);

}  // namespace echoloom
