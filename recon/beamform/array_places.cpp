#include "recon/beamform/array_places.h"

#include <Eigen/Geometry>

#include "sim/array/face.h"

namespace echoloom {

ElementPlaces::ElementPlaces(const Probe& probe) {
    center_m.reserve(probe.elements.size());
    lateral_m.reserve(probe.elements.size());
    for (const Element& element : probe.elements) {
        if (element.is_ring()) {
            center_m.push_back(element.center_m + ring_radius_m(element) * lateral_of(element));
            lateral_m.push_back(0.0);
        } else {
            center_m.push_back(element.center_m);
            lateral_m.push_back(face_lateral_m(probe, element.center_m));
        }
    }
}

LineStart line_start(const RecordingInfo& info, const TransmitEvent& event) {
    LineStart start{event.origin_m, event.direction, 0.0};
    if (info.head) {
        const HeadPose pose = head_pose(*info.head, event.head_angle_rad);
        start.origin_m = pose.to_head(event.origin_m);
        start.direction = pose.to_head(pose.origin_m + event.direction);
    }
    start.lateral_m = info.probe.elements.front().is_ring() ? 0.0 : face_lateral_m(info.probe, start.origin_m);
    return start;
}

LineFrame::LineFrame(const LineStart& start)
    : origin_m_(start.origin_m),
      lateral_(Vec3::UnitY().cross(start.direction).normalized()),
      elevation_(start.direction.cross(lateral_)),
      axis_(start.direction) {}

Vec3 lateral_of(const Element& element) {
    return Vec3::UnitY().cross(element.normal).normalized();
}

}  // namespace echoloom
