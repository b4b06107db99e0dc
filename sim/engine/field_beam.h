#pragma once
/// A transmitted beam in numbers: near zone, pressure along its axis, width against depth, divergence.

#include <optional>
#include <string>

#include "sim/engine/beam_field.h"

namespace echoloom {

/// The transmitting aperture, as far as theory uses it.
struct BeamAperture {
    enum class Shape { disc, strip };
    Shape shape = Shape::strip;
    /// D: outer diameter of the rings, or length of the row of elements that transmit, a pitch for each.
    double width_m = 0.0;
    /// Of the beam's geometry: half its width grows by at most so much of width_m / 2 for each metre of depth.
    double growth_per_m = 0.0;
    /// All weights are equal and all elements of a flat face fire at once: what theory is made for.
    bool plain = false;
};
BeamAperture beam_aperture(const Probe& probe, const TransmitEvent& event);

/// The event's line in the image plane.
struct BeamAxis {
    Vec3 origin_m, direction, across;
    Vec3 point(double depth_m, double across_m = 0.0) const {
        return origin_m + depth_m * direction + across_m * across;
    }
};
BeamAxis beam_axis(const TransmitEvent& event);

/// Where the axis of an unfocused aperture has its last maximum: where the near zone ends.
///
/// Disc: D^2 / (4 lambda) (exactly that less lambda / 4; L. E. Kinsler et al., Fundamentals of Acoustics, 4th ed. 2000,
/// sec. 7.4, from memory). Long strip: 0.341858 D^2 / lambda, the first maximum of |C(v) + j S(v)|, v = 1.209378 =
/// D / sqrt(2 lambda z), in the Fresnel integrals. A low strip spreads in elevation as well, and its maximum comes
/// earlier.
double near_zone_m(const BeamAperture& aperture, double wavelength_m);
inline constexpr double strip_near_zone = 0.34185803;  ///< D^2 / lambda

/// Half angle at which the far field of a plain aperture has half its amplitude: asin(K lambda / D), K = 0.705085 for a
/// disc (2 J1(x) / x), 0.603355 for a strip (sin(x) / x); used both ways, `ways` = 2, 0.514497 and 0.442946. None where
/// that exceeds a right angle.
std::optional<double> theory_half_angle_rad(const BeamAperture& aperture, double wavelength_m, int ways = 1);

/// The deepest local maximum of the amplitude along the axis between two depths, ripples of less than a hundredth left
/// out, to a billionth of the depth.
std::optional<double> last_axial_maximum_m(const BeamField& field, const BeamAxis& axis, double min_m, double max_m);

/// The outermost places across the axis where the amplitude is half of the greatest at this depth, in a window that
/// leaves out grating lobes.
struct BeamEdges {
    double left_m = 0.0, right_m = 0.0;  ///< along BeamAxis::across
    double width_m() const { return right_m - left_m; }
};
std::optional<BeamEdges> beam_edges(const BeamField& field, const BeamAperture& aperture, const BeamAxis& axis,
                                    double depth_m);

/// Half the angle between the outermost directions of half amplitude, in the far field and without attenuation.
std::optional<double> far_half_angle_rad(const BeamField& field, const BeamAperture& aperture, const BeamAxis& axis);

}  // namespace echoloom
