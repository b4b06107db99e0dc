#pragma once
/// Thickness of the slice, read from sheets of scatterers that cut the image plane at an angle.
///
/// What lies off the plane by y lies deeper by y tan(tilt), so the sheet's image along depth is the slice's profile
/// stretched by tan(tilt). Thickness: the -6 dB width of the Gaussian that has the spread of its mean power over the
/// lines, divided by tan(tilt); the pulse's own length is subtracted in quadrature. Source of the method: M. L.
/// Skolnick, "Estimation of ultrasound beam width in the elevation (section thickness) plane", Radiology 180, 286-288,
/// 1991 (abstract read).

#include <optional>
#include <string>

#include "recon/image/image.h"
#include "sim/base/truth.h"

namespace echoloom {

struct SheetSlice {
    std::optional<double> thickness_m;
    double spread_m = 0.0;  ///< standard deviation, from the number of speckle cells
    double depth_m = 0.0;   ///< of the sheet where it crosses the image plane
    std::string reason;
};

SheetSlice measure_sheet(const Image& image, const TrueSheet& sheet);

}  // namespace echoloom
