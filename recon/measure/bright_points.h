#pragma once
/// Bright points that nobody told of: peaks of an image that stand out of their surroundings.

#include <limits>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

/// A stretch of the image plane.
struct PlaneBox {
    double from_x_m = -std::numeric_limits<double>::infinity(), to_x_m = std::numeric_limits<double>::infinity();
    double from_z_m = -std::numeric_limits<double>::infinity(), to_z_m = std::numeric_limits<double>::infinity();

    bool holds(double x_m, double z_m) const {
        return x_m >= from_x_m && x_m <= to_x_m && z_m >= from_z_m && z_m <= to_z_m;
    }
};

/// Places of peaks in a box, brightest first, at most so many: each the highest within 1.5 cells, 3.3 times the
/// 90th percentile of its surroundings (even speckle gets there once in 10^11 cells, speckle that fills half of them
/// once in 10^7), within 40 dB of the brightest, and not in what a brighter one leaves around itself: within 20 widths
/// across and 8 along it has to stand above a quarter of it. A cell is what theory has a point in focus drawn as.
std::vector<Vec3> find_bright_points(const Image& image, const PlaneBox& box = {}, std::size_t most = 64);

}  // namespace echoloom
