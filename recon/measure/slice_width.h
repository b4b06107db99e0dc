#pragma once
/// Thickness of the slice that an image shows, at one point: the width in elevation of the response to a point.

#include "recon/measure/prediction.h"
#include "recon/measure/profile.h"

namespace echoloom {

/// The echo of a point against its elevation, at the depth where it is brightest, the pixel held still in the image
/// plane: two-way, summed in double precision as predict_point does, for flat and curved arrays with a lens, rows with
/// their own delays, and rings. The point keeps its distance from the line's origin, as everything that a pixel
/// collects; a continuous wave, which does not resolve distance, sees it moved straight along elevation. Symmetric
/// about 0; empty where no aperture sees the point. Of the many events that make up a pixel, eight stand for all.
Profile elevation_profile(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m,
                          const PredictionTerms& terms = {});

/// Full width of that profile at `level` of its maximum. A stationary head has round beams, and its slice is as thick
/// as its lateral width.
LevelWidth elevation_width_m(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m, double level,
                             const PredictionTerms& terms = {});

}  // namespace echoloom
