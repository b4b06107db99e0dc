#include "phantoms/resolution_cell.h"

namespace echoloom {

ResolutionCell resolution_cell(const Probe& probe, double sound_speed_m_s, double depth_m, double f_number) {
    constexpr double lateral_factor = 0.885893;
    constexpr double axial_factor = 0.441271;
    const double wavelength_m = probe.wavelength_m(sound_speed_m_s);
    ResolutionCell cell;
    cell.lateral_m = lateral_factor * wavelength_m * f_number;
    cell.elevation_m = lateral_factor * wavelength_m * depth_m / probe.elements.front().height_m;
    cell.axial_m = axial_factor * wavelength_m / probe.bandwidth_fraction;
    return cell;
}

}  // namespace echoloom
