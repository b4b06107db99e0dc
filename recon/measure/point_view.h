#pragma once
/// What theory needs of a recording and a recipe at one point: which events show it, along which line, and with which
/// delays and weights the recipe receives there.

#include <limits>
#include <span>
#include <vector>

#include "recon/beamform/recipe.h"
#include "sim/array/face.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// Of a probe's elements.
inline bool has_rings(const Probe& probe) {
    return !probe.elements.empty() && probe.elements.front().is_ring();
}

/// Where a column of the image leaves the face, and which way it goes.
struct ViewColumn {
    Vec3 origin_m = Vec3::Zero();
    Vec3 direction = Vec3::UnitZ();
};

/// How a point is seen: by a line scan along the beam nearest to it; by an image of pixels along their column through
/// it: straight down, along a radius of a curved array, from the middle of a sector, or with retrospective transmit
/// focus along a line.
struct PointView {
    std::vector<const TransmitEvent*> events;  ///< those that are summed; of one line, all its focal zones
    bool line_scan = false;                    ///< each line from its own events
    Vec3 origin_m = Vec3::Zero();              ///< of the line or column
    Vec3 direction = Vec3::UnitZ();            ///< along the beam
    Vec3 lateral = Vec3::UnitX();              ///< unit, in the image plane
    double depth_m = 0.0;                      ///< of the point along the beam
    /// Distance of the point from where the line meets its neighbours behind the face; infinite for parallel lines.
    double fan_radius_m = std::numeric_limits<double>::infinity();

    Vec3 at_depth(double depth) const { return origin_m + depth * direction; }
    /// The point after moving by some distance perpendicular to the lines: along an arc where they fan.
    Vec3 moved_laterally(double distance_m) const;
    /// The column at some lateral distance from that through the point.
    ViewColumn column_beside(double distance_m) const;
};

/// Throws InputError where the recording has no events.
PointView view_of(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m);

double assumed_sound_speed_m_s(const RecordingInfo& info, const Recipe& recipe);

/// The receive focus used at an assumed depth.
double receive_focus_m(const Recipe& recipe, double depth_m);

/// The recipe's weight for each of some elements, of an aperture centred below or above `center_m` and as wide as it is
/// at `depth_m` (assumed depth): as in recon/beamform/aperture.h, written again for theory.
std::vector<double> receive_weights(const RecordingInfo& info, const Recipe& recipe, std::span<const int> elements,
                                    const Vec3& center_m, double depth_m);

/// The recipe's weight of each event at a pixel.
std::vector<double> event_weights(const RecordingInfo& info, const Recipe& recipe, const PointView& view,
                                  const Vec3& pixel_m);

}  // namespace echoloom
