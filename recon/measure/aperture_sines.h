#pragma once
/// The apertures as a point sees them: the sines of the lateral angles of their parts, and their weights. The closed
/// forms of theory.h are built from these.

#include <complex>
#include <span>
#include <vector>

#include "recon/beamform/recipe.h"
#include "recon/measure/point_view.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// A weight at a place in the aperture, the place in any unit; or a disc of that radius about 0, its weight per area.
struct Contribution {
    double place;
    double weight;
    bool disc = false;
};

/// Sum of all in focus at a phase per place (wavenumber times offset), and its modulus.
std::complex<double> complex_pattern(std::span<const Contribution> aperture, double phase_per_place);
double pattern(std::span<const Contribution> aperture, double phase_per_place);

/// The parts of the transmit and of the receive aperture at a point.
std::vector<Contribution> transmit_sines(const RecordingInfo& info, const Recipe& recipe, const PointView& view);
std::vector<Contribution> receive_sines(const RecordingInfo& info, const Recipe& recipe, const PointView& view);

/// Sines from the one farthest to one side to that farthest to the other.
double extent_of(std::span<const Contribution> sines);

}  // namespace echoloom
