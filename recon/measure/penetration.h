#pragma once
/// Depth of penetration: down to where the echoes of uniform speckle exceed the receiver's noise.
///
/// Definition: the depth at which the signal-to-noise ratio sqrt(A^2 / A'^2 - 1) falls to 1, with A the rms envelope of
/// speckle at that depth and A' that of noise alone. Source: IEC 61391-2:2010, 7.1, which compares an image of a
/// phantom with one of noise alone (contents read; the ratio 1 from memory). Here the noise is that of the image
/// itself, where nothing scatters below the phantom, carried to other depths by what the reconstruction does to white
/// noise.

#include <optional>
#include <string>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

struct Penetration {
    std::optional<double> depth_m;
    double speckle_from_m = 0.0, speckle_to_m = 0.0;  ///< depths that were examined
    double noise_from_m = 0.0;                        ///< noise was taken from here down
    std::vector<double> depths_m, snr_dB;             ///< 20 log10 of that ratio, averaged over a few cells of depth
    std::string reason;                               ///< why there is no depth
};

/// What the reconstruction makes of white noise of unit rms at a depth along the middle column, in arbitrary units:
/// attenuation compensation times the root of the sum of the squared weights.
double noise_gain(const Image& image, double depth_m);

/// By the truth of the image's recording: speckle in the largest region's own background. Nothing where it has none.
std::optional<Penetration> measure_penetration(const Image& image);

/// From profiles of rms speckle and rms noise over depth (equally spaced): the deepest depth down to which the ratio
/// stays above 1; linear between depths, in dB.
Penetration penetration_of(const std::vector<double>& depths_m, const std::vector<double>& speckle,
                           const std::vector<double>& noise);

}  // namespace echoloom
