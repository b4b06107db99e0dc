#pragma once
/// What theory needs to know of a recording and a recipe at one point: which events show it, along which line, and
/// with which delays and weights the recipe listens there.

#include <span>
#include <vector>

#include "recon/beamform/recipe.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// How a point is seen: lines see it along the beam nearest to it, grids straight down.
struct PointView {
    std::vector<const TransmitEvent*> events;  ///< those that are summed
    bool line_scan = false;
    Vec3 origin_m = Vec3::Zero();    ///< of the line; for grids the place above the point at z = 0
    Vec3 direction = Vec3::UnitZ();  ///< along the beam
    Vec3 across = Vec3::UnitX();     ///< unit, in the image plane
    double depth_m = 0.0;            ///< of the point along the beam

    Vec3 at_depth(double depth) const { return origin_m + depth * direction; }
};

/// Throws InputError where the recording has no events.
PointView view_of(const RecordingInfo& info, const Vec3& point_m);

double assumed_sound_speed_m_s(const RecordingInfo& info, const Recipe& recipe);

/// The receive focus that serves an assumed depth.
double receive_focus_m(const Recipe& recipe, double depth_m);

/// The recipe's weight for each of some elements, of an aperture centred on `center_m` and as wide as it is at
/// `depth_m` (assumed depth): the rule of recon/beamform/aperture.h, written again for theory.
std::vector<double> receive_weights(const RecordingInfo& info, const Recipe& recipe, std::span<const int> elements,
                                    const Vec3& center_m, double depth_m);

/// The recipe's weight of each event of a Cartesian image at a pixel; all one for lines.
std::vector<double> event_weights(const RecordingInfo& info, const Recipe& recipe, const PointView& view,
                                  const Vec3& pixel_m);

}  // namespace echoloom
