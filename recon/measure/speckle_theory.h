#pragma once
/// Theory of side lobes and speckle size from the apertures alone: continuous wave at the centre frequency, paraxial.

#include <optional>

#include "recon/beamform/recipe.h"
#include "recon/measure/profile.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// Product of both apertures' patterns in focus at a point, over offsets to `reach_m` to either side: sinc^2 for two
/// equal rectangular ones, its peak side lobe at -26.52 dB. Empty where no aperture sees the point. `step_m` at
/// least a sixth of lateral_theory_m.
Profile pattern_theory(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m, double reach_m,
                       double step_m);

/// Lateral size of a speckle cell (integral of the envelope's normalised covariance), both apertures in focus. The
/// field of random scatterers is correlated as the point response is with itself (van Cittert-Zernike); its
/// covariance follows from that of the field (rayleigh.h). Two equal rectangular apertures: 0.871956 lambda z / D (0.87
/// by Wagner et al. 1983, from memory). Nothing where no aperture sees the point.
std::optional<double> lateral_cell_m(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m);

/// Axial size for a Gaussian echo: 0.45537 c / (B f0), B the echo's bandwidth at half amplitude.
double axial_cell_m(const Probe& probe, double sound_speed_m_s);

}  // namespace echoloom
