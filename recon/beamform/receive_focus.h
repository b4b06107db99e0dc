#pragma once
/// The way an echo is taken to have come back to an element.

#include <vector>

#include "recon/beamform/recipe.h"
#include "sim/base/vector.h"

namespace echoloom {

class ReceiveFocus {
  public:
    explicit ReceiveFocus(const Recipe& recipe);

    bool dynamic() const { return depths_m_.empty(); }
    /// Depth of the focus in force at a depth. Of several zones the nearest: they switch at midpoints.
    double depth_m(double depth_m) const;
    /// Path from the sample at `depth_m` along the line (origin, unit direction) to an element.
    double path_m(const Vec3& origin_m, const Vec3& direction, double depth_m, const Vec3& element_m) const;

  private:
    std::vector<double> depths_m_;     ///< empty: the focus is where the sample is
    std::vector<double> midpoints_m_;  ///< between neighbours
};

}  // namespace echoloom
