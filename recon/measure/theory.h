#pragma once
/// Closed forms for the width of a point's image.

#include <span>

#include "recon/beamform/recipe.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// Weights at equal spacing along an aperture: full width, at `level` of the peak, of the product of
/// the magnitudes of the two apertures' transforms, in units of lambda z / (count * pitch). Both have the same count
/// and pitch; a smaller aperture is padded with zeros. Rectangular: 0.885893 at one half, 1.476053 at one tenth (many
/// elements). One-way: give `receive` a single centred weight, or leave it empty.
double width_constant(std::span<const double> transmit, std::span<const double> receive, double level);

/// The constant of an aperture with a window two-way (the same on both sides) or one-way, at half amplitude.
double two_way_constant(const Window& window, int count);
double one_way_constant(const Window& window, int count);

/// Axial full width of a point echo at `level`, for a Gaussian echo spectrum of half-amplitude bandwidth B:
/// (2 ln 2 / pi) sqrt(log2(1/level)) c / (B f0), which is 0.441271 lambda / B at one half. The downshift of the
/// spectrum under attenuation is ignored (linear attenuation moves a Gaussian without widening it).
double axial_theory_m(const Probe& probe, double sound_speed_m_s, double level);

/// Paraxial lateral full width at `level` with both apertures in focus at the point: the patterns of the recording's
/// transmit apertures (element weights of the line nearest the point, angles of plane or diverging waves, or elements
/// fired singly)
/// times that of the recipe's receive aperture, at the centre frequency. Lambda z/D with the right constant. A steered
/// aperture counts with its projected width, D cos(theta). A ring is the difference of two discs, each with
/// the Airy pattern 2 J1(u)/u (two equal discs: 1.028994 lambda z/D at one half); a rotating head is taken as
/// stationary.
double lateral_theory_m(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m, double level);

}  // namespace echoloom
