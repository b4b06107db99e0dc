#pragma once
/// The computed image of a point: its envelope over lateral positions, or elevations, and depths.

#include <functional>
#include <vector>

#include "recon/measure/interpolate.h"
#include "recon/measure/profile.h"
#include "recon/measure/wave_scene.h"

namespace echoloom {

struct EchoPatch {
    std::vector<double> position_m, depth_m;  ///< depths from the pixel
    std::vector<float> values;                ///< [position, depth], relative to the largest

    SampleView view() const { return {values, position_m.size(), depth_m.size()}; }
};

/// -reach to reach, 0 among them.
std::vector<double> spaced(double reach, double step);

/// Evaluates the echo at each position from its spectrum (without E).
EchoPatch make_patch(const WaveScene& scene, const Frequencies& frequencies, std::vector<double> positions_m,
                     const std::function<Spectrum(double position_m)>& sum_at);

/// The peak where measure_point would search for it: out of focus, the arc above the point may be brighter.
FieldPeak peak_of(const EchoPatch& patch, double axial_theory_m);

/// Through the peak, over positions and over depths.
Profile position_profile(const EchoPatch& patch, const FieldPeak& peak);
Profile depth_profile(const EchoPatch& patch, const FieldPeak& peak);

}  // namespace echoloom
