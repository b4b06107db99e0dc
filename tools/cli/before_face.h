#pragma once
/// Where a field is computed near a face.

#include <optional>

#include "sim/array/probe.h"
#include "sim/array/scan.h"

namespace echoloom {

/// What tells before from behind.
struct FaceShape {
    double radius_m = 0.0;  ///< of a curved array, else 0
    bool turned = false;    ///< a head that may look aside, whose face lies at `origin_m` square to `direction`
    Vec3 origin_m = Vec3::Zero();
    Vec3 direction = Vec3::UnitZ();
};
FaceShape face_shape(const Probe& probe, const TransmitEvent& event);

/// The point itself, or one straight before it: no nearer to the face than `nearest_m`, where every element would stand
/// out by itself. Nothing for a point farther behind the face than that.
std::optional<Vec3> before_face(const FaceShape& shape, const Vec3& point_m, double nearest_m);

}  // namespace echoloom
