#pragma once
/// Images made up from random numbers for the drawing tests: no recording, no reconstruction.

#include <cmath>
#include <functional>
#include <string>

#include "recon/image/image.h"

namespace echoloom::synthetic {

/// `lines` vertical or steered lines over `width_m`, from depth 2 mm on.
LineGrid parallel_lines(std::size_t lines, double width_m, double max_depth_m, double depth_step_m,
                        double steering_rad = 0.0);

/// An envelope given as a function of x and z, in metres.
Image image_of(const Grid& grid, const std::function<double(double, double)>& envelope);

/// A Gaussian spot of unit peak; sizes are full widths at half amplitude.
double spot(double x, double z, double width_x, double width_z);

struct Cyst {
    double x_m, z_m, radius_m, contrast_dB;
};

/// Speckle of Rayleigh statistics with a Gaussian cell, cysts, and a
/// column of bright points each 10 mm. `cell_growth` widens the cell away from 40 mm, as a fixed focus would.
Image speckle(const LineGrid& grid, const std::vector<Cyst>& cysts, double cell_growth, std::uint64_t seed);

}  // namespace echoloom::synthetic
