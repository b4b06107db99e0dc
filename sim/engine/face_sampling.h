#pragma once
/// How many quadrature points each element's face needs, chosen from a stated error.

#include <vector>

#include "phantoms/phantom.h"
#include "sim/engine/elements.h"

namespace echoloom {

struct FaceSampling {
    std::vector<int> lateral_points;  ///< [element group]
    int elevation_points = 1;
    int max_points() const;  ///< lateral times elevation, of the group that has most
};

/// Point counts for which rules are kept: all up to 96, then fewer and fewer.
int rounded_points(int points);

/// Box of |y|: what is seen from every element of a group at wavenumber `wavenumber` (rad/m) is right to `tolerance` of
/// the unweakened response.
FaceSampling sample_faces(const ElementArrays& elements, const Box& upper_box, double wavenumber, double tolerance);

}  // namespace echoloom
