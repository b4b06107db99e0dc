#pragma once
/// The beam of a focused event by geometry: straight rays from its firing elements through its focus.

#include "sim/recording/recording.h"

namespace echoloom {

class FocusCone {
  public:
    /// Throws InputError where the event has no focus in front of the elements that fire.
    FocusCone(const RecordingInfo& info, std::size_t event, double sound_speed_m_s);

    /// Lateral place of a point in the cone, from -1/2 to +1/2 at its edges. The cone's half width never falls below
    /// wavelength x F-number, that of the focus itself, which it goes over to smoothly.
    double lateral_share(const Vec3& point_m) const;

    /// The front's way to a point, from time zero: |focus - origin| less the distance to the focus before it, plus that
    /// distance beyond. A focus is no point but a zone in which the front passes from hollow to bulging by way of
    /// flat, so that at u axial and v lateral from the focus u sqrt(1 + v^2 / (u^2 + zone^2)) stands for
    /// the signed distance: the same well outside the zone, and without a jump at the focus.
    double path_m(const Vec3& point_m) const;

    /// Half the length of the zone in which the front is flat: 1.6 wavelength x F-number^2, the Rayleigh range of a
    /// Gaussian beam with the half-amplitude width of a uniform aperture's focus, 1.207 wavelength x F-number.
    double zone_m() const { return zone_m_; }

  private:
    Vec3 focus_m_, axis_, lateral_;
    double to_focus_m_;                 ///< from the origin
    double middle_slope_, half_slope_;  ///< of the rays against the axis
    double min_half_width_m_, zone_m_;
};

}  // namespace echoloom
