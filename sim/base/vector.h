#pragma once
/// Points and directions: x lateral, y elevation, z depth, in metres.

#include <Eigen/Core>

namespace echoloom {

using Vec3 = Eigen::Vector3d;

}  // namespace echoloom
