#pragma once
/// Where elements are and where lines start, as the sums see them: along the face, and in the array's own frame.

#include <vector>

#include "sim/recording/recording.h"

namespace echoloom {

/// The elements as points. A ring is taken at its ring_radius_m to one side, as far from any point of its axis as all
/// of it is.
struct ElementPlaces {
    explicit ElementPlaces(const Probe& probe);

    std::vector<Vec3> center_m;     ///< [element]
    std::vector<double> lateral_m;  ///< [element] along the face; 0 for rings
};

/// Where a line leaves the array, and which way, in the array's own frame.
struct LineStart {
    Vec3 origin_m = Vec3::Zero();
    Vec3 direction = Vec3::UnitZ();
    double lateral_m = 0.0;  ///< of the origin, along the face
};

/// A rotating head moves on while echoes come back; a reconstruction takes the axis of transmit for both ways,
/// so that its lines, as seen from the head, are all the same.
LineStart line_start(const RecordingInfo& info, const TransmitEvent& event);

/// A line's own frame: its origin, and axes of which z is its direction and x lies in the image plane.
class LineFrame {
  public:
    explicit LineFrame(const LineStart& start);
    Vec3 turned(const Vec3& vector) const { return {vector.dot(lateral_), vector.dot(elevation_), vector.dot(axis_)}; }
    Vec3 place(const Vec3& point_m) const { return turned(point_m - origin_m_); }

  private:
    Vec3 origin_m_, lateral_, elevation_, axis_;
};

/// Lateral axis of an element.
Vec3 lateral_of(const Element& element);

}  // namespace echoloom
