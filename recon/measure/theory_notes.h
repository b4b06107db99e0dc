#pragma once
/// What theory leaves out or simplifies for the geometry of an image.

#include <span>
#include <string>
#include <vector>

#include "recon/image/image.h"
#include "recon/measure/report.h"

namespace echoloom {

/// One sentence each; empty for parallel lines of a stationary flat array.
std::vector<std::string> theory_notes(const Image& image);

/// From which depth a growing aperture has no more elements, and why measured widths exceed theory (both apertures in
/// focus) by more than 15 %, where the reason is known: the transmit beam is out of focus, the F-number is too small
/// for the paraxial approximation, attenuation has lowered the centre frequency. Empty where no width does. `points`
/// are the image's own.
std::vector<std::string> difference_notes(const Image& image, std::span<const PointReport> points);

}  // namespace echoloom
