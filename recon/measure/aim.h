#pragma once
/// Where to measure: at the recording's own truth, at positions and regions given by the user, or at bright points
/// detected in the image.

#include <optional>
#include <string>
#include <vector>

#include "recon/image/image.h"
#include "recon/measure/bright_points.h"

namespace echoloom {

/// A disc in the image plane.
struct GivenDisc {
    double x_m = 0.0, z_m = 0.0;
    double diameter_m = 0.0;
};

/// Given by the user, in place of the recording's truth of that kind.
struct Aim {
    std::vector<Vec3> points;
    std::optional<PlaneBox> box;    ///< detect bright points in here
    std::vector<GivenDisc> discs;   ///< each against what surrounds it
    std::vector<PlaneBox> speckle;  ///< uniform speckle
};

enum class PointSource { truth, given, detected };

struct AimedAt {
    PointSource points = PointSource::truth;
    bool regions_given = false;
    std::string description;  ///< where the positions come from; empty where all are true
};

/// Replaces the truth that comes with the image by what is given. Without truth and without anything given, bright
/// points are detected in the whole image. Throws InputError (at `place`) where nothing is left to measure, or where
/// something given lies outside the image.
AimedAt take_aim(Image& image, const Aim& aim, const Place& place = {});

}  // namespace echoloom
