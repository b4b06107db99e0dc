#pragma once
/// Position and widths of a point's image: where its envelope peaks, and how wide it is laterally and axially.
///
/// Definitions: full widths of the envelope at 0.5 ("-6 dB", exactly half) and 0.1 ("-20 dB") of the point's peak. The
/// lateral profile is taken through the peak, perpendicular to every column it crosses: a row of the grid at
/// the depth of the peak, for steered lines the oblique cut perpendicular to the beam, for lines that fan an arc about
/// the point they fan from. The axial profile follows the beam through the peak. Levels are those of the usual
/// point-response measurement (IEC 61391-1:2006; levels from memory).

#include <limits>
#include <string>

#include "recon/image/image.h"
#include "recon/measure/profile.h"

namespace echoloom {

/// Half size of the search box in resolution cells, lateral and axial.
inline constexpr double search_cells = 1.5;

/// Where to search for a point.
struct PointSearch {
    Vec3 true_m = Vec3::Zero();         ///< where the point is
    double lateral_resolution_m = 0.0;  ///< size of the search box: the peak may lie search_cells of these away
    double axial_resolution_m = 0.0;
    std::vector<Vec3> neighbours_m;  ///< other true points: the box and the widths end half way to them
    /// Widths are searched this far from the true point.
    double lateral_reach_m = std::numeric_limits<double>::infinity();
    double axial_reach_m = std::numeric_limits<double>::infinity();
    /// Predicted lateral position of the peak: a head that rotates while it receives shows a point displaced.
    double predicted_lateral_m = 0.0;
};

struct PointMeasurement {
    Vec3 true_m = Vec3::Zero();
    bool found = false;
    std::string reason;   ///< why it was not measured
    double column = 0.0;  ///< fractional grid indices of the peak
    double depth_index = 0.0;
    Vec3 peak_m = Vec3::Zero();
    double peak_amplitude = 0.0;
    double lateral_error_m = 0.0;                 ///< peak minus truth
    double axial_error_m = 0.0;                   ///< peak minus truth
    double prominence_dB = 0.0;                   ///< peak over the median of what surrounds it
    double lateral_peak_index = 0.0;              ///< of the peak in lateral_profile()
    double reach_from_m = 0.0, reach_to_m = 0.0;  ///< the part of that profile that belongs to the point
    LevelWidth lateral_6dB, lateral_20dB, axial_6dB, axial_20dB;
};

/// A wrong assumed sound speed moves a point axially by the ratio of assumed to true speed; the box moves with it, and
/// the error is still against the truth. A point has to stand out from its surroundings: its peak must reach 3.6 times
/// the median envelope around the box (3 times the rms of Rayleigh speckle), otherwise it is not found.
PointMeasurement measure_point(const Image& image, const PointSearch& search);

/// Envelope through the peak, `upsampling` values per column; lateral positions in metres from the true point.
Profile lateral_profile(const Image& image, const PointMeasurement& point, int upsampling = 1);

/// Envelope along the beam through the peak; axial positions in metres from the true point.
Profile axial_profile(const Image& image, const PointMeasurement& point, int upsampling = 1);

}  // namespace echoloom
