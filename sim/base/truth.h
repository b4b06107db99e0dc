#pragma once
/// Ground truth that travels with a recording: what a measurement may aim at.

#include <string>
#include <vector>

#include "sim/base/vector.h"

namespace echoloom {

/// A single bright target: a point, or where a wire along elevation crosses the image plane.
struct TruePoint {
    Vec3 position_m;
    double strength_m = 0.0;
    double length_m = 0.0;  ///< of a wire, along elevation; 0 for a point
};

enum class RegionShape { box, cylinder, sphere, ellipsoid };  ///< a cylinder's axis lies along elevation (y)

/// Outline of a region of speckle or of an inclusion in one.
struct TrueRegion {
    std::string name;
    RegionShape shape = RegionShape::box;
    Vec3 center_m = Vec3::Zero();
    Vec3 half_size_m = Vec3::Zero();  ///< half extents along x, y, z (radii for round shapes)
    double contrast_dB = 0.0;         ///< against its surroundings; -inf for anechoic, 0 for a background region
    bool inclusion = false;           ///< true where it lies inside another region
};

/// A flat sheet of scatterers, turned about the lateral axis: z = center z + (y - center y) tan(tilt). How deep its
/// echo reaches in the image says how thick the slice is.
struct TrueSheet {
    std::string name;
    Vec3 center_m = Vec3::Zero();
    double half_width_m = 0.0;   ///< lateral
    double half_length_m = 0.0;  ///< along the slope
    double tilt_rad = 0.0;
};

struct Truth {
    std::vector<TruePoint> points;
    std::vector<TrueRegion> regions;
    std::vector<TrueSheet> sheets = {};
};

}  // namespace echoloom
