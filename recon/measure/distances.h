#pragma once
/// Whether distances in an image are right: between points that lie in one column or in one row of a grid.
///
/// Limits of quality control: axial ("vertical") 1.5 mm or 1.5 %, lateral ("horizontal") 2 mm or 2 %, whichever is
/// greater. Source: M. M. Goodsitt, P. L. Carson, S. Witt, D. L. Hykes, J. M. Kofler, "Real-time B-mode ultrasound
/// quality control test procedures", AAPM Ultrasound Task Group No. 1, Med. Phys. 25, 1385-1406, 1998, section VII.A.6
/// (contents read; the numbers from memory).

#include <optional>
#include <span>
#include <vector>

#include "recon/measure/point_width.h"

namespace echoloom {

struct DistanceCheck {
    std::size_t pairs = 0;
    double worst_true_m = 0.0, worst_measured_m = 0.0;  ///< of the pair with the largest error
    Vec3 worst_from_m = Vec3::Zero(), worst_to_m = Vec3::Zero();
    double longest_true_m = 0.0, longest_measured_m = 0.0;  ///< of the pair farthest apart
    double rms_error_m = 0.0;
    double limit_m = 0.0;          ///< for the worst pair
    std::size_t beyond_limit = 0;  ///< pairs whose error exceeds their own limit
    double scale = 1.0;            ///< measured over true distance, least squares over all pairs
};

/// Largest error that quality control allows.
double distance_limit_m(double true_m, bool axial);

/// Every pair of measured points that lie one below the other (`axial`) or side by side within a tenth of a millimetre;
/// nothing where there is none.
std::optional<DistanceCheck> check_distances(std::span<const PointMeasurement> points, bool axial);

}  // namespace echoloom
