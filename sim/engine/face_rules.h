#pragma once
/// How many Gauss-Legendre points a rectangular face needs for one point of the field, and the rules themselves.

#include <vector>

#include "sim/engine/quadrature.h"

namespace echoloom {

class FaceRules {
  public:
    /// `tolerance` of an element's own response.
    explicit FaceRules(double tolerance);

    /// Points along one side of a face of `half` length, for a path of this slope at most, seen from a point `offset`
    /// along the side and `distance` away from it.
    int side_points(double wavenumber, double slope, double half, double offset, double distance) const;
    const GaussLegendre& rule(int count) const { return rules_[static_cast<std::size_t>(count)]; }

  private:
    int for_phase(double phase) const;

    double tolerance_;
    std::vector<int> points_;           ///< for phases in equal ratios; a little generous
    std::vector<GaussLegendre> rules_;  ///< [points]; empty for counts that rounding skips
};

/// Greatest slope of the path, lens included, over the height of a face seen from height `y` and `distance` away.
double steepest_elevation_slope(double elevation_focus_m, double half_height, double y, double distance);

}  // namespace echoloom
