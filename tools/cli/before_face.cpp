#include "tools/cli/before_face.h"

#include <algorithm>

namespace echoloom {

FaceShape face_shape(const Probe& probe, const TransmitEvent& event) {
    return {probe.radius_m, probe.elements.front().is_ring(), event.origin_m, event.direction};
}

std::optional<Vec3> before_face(const FaceShape& shape, const Vec3& point_m, double nearest_m) {
    Vec3 normal = Vec3::UnitZ();
    double height = point_m.z();
    if (shape.radius_m > 0.0) {
        const Vec3 from_centre = point_m - Vec3(0, 0, -shape.radius_m);
        normal = from_centre.normalized();
        height = from_centre.norm() - shape.radius_m;
    } else if (shape.turned) {
        normal = shape.direction;
        height = (point_m - shape.origin_m).dot(normal);
    }
    if (height < -nearest_m) {
        return std::nullopt;
    }
    return point_m + std::max(0.0, nearest_m - height) * normal;
}

}  // namespace echoloom
