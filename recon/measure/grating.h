#pragma once
/// Grating lobes: where an array of pitch p shows a point a second time.
///
/// An aperture steered to sine s also sums in phase what comes from sine s + n lambda / p. A line whose aperture sees
/// the point at such a sine shows it at the point's own distance. Source: any text on arrays, e.g. W. L. Stutzman & G.
/// A. Thiele, Antenna Theory and Design, 3rd ed., p. 307 (from memory).
///
/// Level, far field, two-way: the mean over the echo's spectrum of the product of both array factors at that sine,
/// times the elements' two-way directivity over that on the point's own line. For equal weights on N elements
/// and a Gaussian spectrum of relative bandwidth B the mean is 0.93944 / (B N n) (compare "cycles over N" of O. T. von
/// Ramm & S. W. Smith, IEEE Trans. Biomed. Eng. 30, 438-452, 1983, from memory).

#include <optional>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

struct GratingLobe {
    int order = 0;  ///< n: -1 or 1
    Vec3 point_m = Vec3::Zero();
    Vec3 place_m = Vec3::Zero();  ///< where theory puts it
    double predicted_dB = 0.0;    ///< against the point's own peak
    Vec3 measured_m = Vec3::Zero();
    double measured_dB = 0.0;    ///< the highest envelope nearby, against the point's own peak
    bool another_point = false;  ///< a true point lies there
};

/// Lobes of first order of a point that fall inside an image of the transmitted lines; none where the pitch is
/// not known.
/// `peak_amplitude` is that of the point's own image.
std::vector<GratingLobe> grating_lobes(const Image& image, const Vec3& point_m, double peak_amplitude);

/// The mean over the spectrum for given weights: |sum over spectrum E T R| / |sum over spectrum E| with T and R the
/// apertures' factors at the lobe of an order.
double grating_level(const std::vector<double>& transmit, const std::vector<double>& receive, double bandwidth_fraction,
                     int order);

}  // namespace echoloom
