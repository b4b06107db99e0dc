#pragma once
/// What a point's image contains outside its main lobe: the peak side lobe, the integrated side lobe ratio, and the
/// cystic resolution.
///
/// Definitions. The main lobe ends on either side at the lowest point beyond its half-amplitude crossing from which the
/// profile rises again by a decibel; the peak side lobe is the highest point beyond these, within the search range that
/// belongs to the point; lobes below -60 dB are ignored. On images of known
/// shape levels hold to 1 %; between cusps of the envelope, as a continuous wave's zeros are, to 1 dB below -30 dB.
/// Integrated side lobe ratio: the integral of the squared envelope outside the main lobe over that inside it. Cystic
/// resolution: the radius of a hole in uniform speckle at whose centre the mean power is 20 dB below that around it;
/// there the point response holds one hundredth of its energy outside that radius. Source of the last: D. Vilkomerson,
/// J. Greenleaf, V. Dutt, "Towards a resolution metric for medical ultrasonic imaging", Proc. IEEE Ultrasonics
/// Symposium 1995, 1405-1410 (abstract read; there a sphere, here a cylinder along elevation, as one image is all that
/// is known).

#include <limits>
#include <optional>
#include <string>

#include "recon/image/image.h"
#include "recon/measure/point_width.h"
#include "recon/measure/profile.h"

namespace echoloom {

struct SideLobes {
    std::optional<double> peak_side_lobe_dB;  ///< against the profile's peak
    double peak_side_lobe_m = 0.0;            ///< its position, as those of the profile
    bool rising = false;                      ///< there the search range ends, and the profile still rises
    std::optional<double>
        integrated_side_lobe_ratio_dB;  ///< 10 log10 of energy outside over energy inside the main lobe
    double main_from_m = 0.0, main_to_m = 0.0;
    std::string reason;  ///< why there are none
};

/// Of the profile whose peak lies at fractional index `peak` (equally spaced samples), within `from_m` to `to_m`.
SideLobes side_lobes(const Profile& profile, double peak, double from_m = -std::numeric_limits<double>::infinity(),
                     double to_m = std::numeric_limits<double>::infinity());

struct CysticResolution {
    std::optional<double> radius_m;
    double within_m = 0.0;  ///< energy is counted to this distance from the peak
    std::string reason;     ///< why there is none
};

/// Energy outside the radius is `energy_outside` of all within `reach_m` of the peak.
CysticResolution cystic_resolution(const Image& image, const PointMeasurement& point, double reach_m,
                                   double energy_outside = 0.01);

}  // namespace echoloom
