#pragma once
/// The speckle size to be expected for a recipe.

#include <optional>

#include "recon/measure/prediction.h"

namespace echoloom {

struct SpeckleSizePrediction {
    double lateral_m = 0.0, axial_m = 0.0;
};

/// Lateral and axial size of a speckle cell around a place: the integral of the envelope's normalised
/// covariance (rayleigh.h). The field's own is that of the point response with itself (van Cittert-Zernike), summed
/// over all scatterers, by place x, elevation y and, over frequency, time:
///     rho(dx, dz) = sum_f sum_y sum_x P(x, y, f) P*(x - dx, y, f) exp(j 2 pi f 2 dz / c)
/// with P the S(f) of prediction.h for a point at (x, y). Line scans of rectangular elements sum over elevation; other
/// images take the image plane for all. Nothing where no aperture sees the place.
std::optional<SpeckleSizePrediction> predict_speckle_size(const RecordingInfo& info, const Recipe& recipe,
                                                          const Vec3& place_m, const PredictionTerms& terms = {});

}  // namespace echoloom
