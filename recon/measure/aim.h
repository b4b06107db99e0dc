#pragma once
/// What a measurement aims at: the recording's own truth, places and regions given by hand, or bright points that it
/// finds by itself.

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

/// Given by hand, in place of the truth of its kind.
struct Aim {
    std::vector<Vec3> points;
    std::optional<PlaneBox> box;    ///< find bright points in here
    std::vector<GivenDisc> discs;   ///< each against what surrounds it
    std::vector<PlaneBox> speckle;  ///< even speckle
};

enum class PointSource { truth, given, found };

struct AimedAt {
    PointSource points = PointSource::truth;
    bool regions_given = false;
    std::string words;  ///< where the places come from; empty where all is truth
};

/// Puts what to aim at in place of the truth that travels with the image. Without any truth and without anything given,
/// bright points are looked for in all of it. Throws InputError (at `place`) where nothing is left to measure, or where
/// something given lies outside the image.
AimedAt take_aim(Image& image, const Aim& aim, const Place& place = {});

}  // namespace echoloom
