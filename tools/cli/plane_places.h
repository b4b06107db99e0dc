#pragma once
/// Places and regions of the image plane as a person writes them: millimetres between commas.

#include <string>
#include <vector>

#include "recon/measure/aim.h"

namespace echoloom {

/// X,DEPTH of a --point. Throws InputError that tells what to write.
Vec3 read_point(const std::string& text);

/// From --point, --box (empty where it was not given), --disc and --speckle. Throws InputError that tells what to
/// write.
Aim read_aim(const std::vector<std::string>& points, const std::string& box, const std::vector<std::string>& discs,
             const std::vector<std::string>& speckle);

}  // namespace echoloom
