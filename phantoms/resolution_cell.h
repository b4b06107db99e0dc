#pragma once
/// How large the blur is that speckle is made of, to give the density of scatterers by it.

#include "sim/array/probe.h"

namespace echoloom {

struct ResolutionCell {
    double lateral_m = 0.0;
    double elevation_m = 0.0;
    double axial_m = 0.0;
    double volume_mm3() const { return lateral_m * elevation_m * axial_m * 1e9; }
};

/// Two-way -6 dB full widths at `depth_m` for rectangular apertures and a Gaussian pulse:
///   lateral 0.885893 lambda F, elevation 0.885893 lambda z / H, axial 0.441271 c / (bandwidth in Hz),
/// H the height of an element. The factors are 2 x of sinc^2(x) = 1/2 with sinc(x) = sin(pi x)/(pi x), and 2 ln 2 / pi.
/// In elevation it is the width in focus: without a lens, or away from its focus, the cell is larger.
ResolutionCell resolution_cell(const Probe& probe, double sound_speed_m_s, double depth_m, double f_number);

}  // namespace echoloom
