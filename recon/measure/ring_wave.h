#pragma once
/// What a ring transmits to a point, and receives from it, in double precision: the Rayleigh integral of
/// exp(-gamma R) / (2 pi R) over a flat ring in a rigid baffle, gamma = attenuation + j wavenumber.
///
/// Written for theory only, separately from the engine's. A disc of radius a, seen from radius r and height z, is an
/// integral along its edge (A. Schoch, Akustische Zeitschrift 6, 318, 1941, from memory):
///
///   gamma H = chi exp(-gamma z) - (1/pi) int_0^pi exp(-gamma R) K dphi,   K = (a^2 - a r cos phi) / d^2,
///   d^2 = a^2 + r^2 - 2 a r cos phi,   R^2 = z^2 + d^2
///
/// and since the mean of K is chi (1 under the disc, 1/2 at its edge, 0 beside it),
///
///   H = (1/pi) int_0^pi [exp(-gamma z) - exp(-gamma R)] / gamma K dphi,
///
/// which stays smooth at the edge. A ring is the difference of two discs.

#include <vector>

#include "recon/measure/wave_sum.h"
#include "sim/array/probe.h"
#include "sim/base/medium.h"

namespace echoloom {

/// Where a ring sees a point, about its axis.
struct RingPlace {
    double radius_m = 0.0;
    double height_m = 0.0;
    double distance_m() const;  ///< from the ring's centre
};
RingPlace ring_place(const Element& ring, const Vec3& point_m);

/// The response in metres at the frequencies times exp(+j 2 pi f distance / c), which removes the travel phase.
Spectrum ring_response_at(const Element& ring, const Medium& medium, bool attenuated, const Frequencies& frequencies,
                          const RingPlace& place);

/// The same of all rings of a probe over a range of places: cubic between radii, quadratic between heights.
class RingTable {
  public:
    struct Range {
        double max_radius_m, min_height_m, max_height_m;
    };
    RingTable(const Probe& probe, const Medium& medium, bool attenuated, const Frequencies& frequencies,
              const Range& range);

    /// Adds weight * response * exp(j 2 pi f time) of one ring.
    void add(Spectrum& sum, std::size_t ring, const RingPlace& place, double weight, double time_s) const;

  private:
    const Spectrum& node(std::size_t ring, std::size_t height, std::size_t radius) const {
        return nodes_[(ring * heights_ + height) * radii_ + radius];
    }

    Frequencies frequencies_;
    double radius_step_m_;
    double min_height_m_;
    double height_step_m_;
    std::size_t radii_;
    std::size_t heights_;
    std::vector<Spectrum> nodes_;  ///< [ring, height, radius]
};

}  // namespace echoloom
