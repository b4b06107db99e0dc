#pragma once
/// What the height of an element, its lens and the medium's attenuation do to a wave on one way, apart from 1/R and the
/// delay R/c.

#include <vector>

#include "recon/measure/wave_sum.h"
#include "sim/array/probe.h"
#include "sim/base/medium.h"

namespace echoloom {

/// What is at the other end of the way: a point in the image plane, or a wire along elevation, long against the beam.
enum class TargetKind { point, wire };

/// For a point y off the image plane at distance R within it: the mean over the element's height of
/// exp(-j k (sqrt(R^2 + (y - y')^2) - R)), with the lens's advance of y'.
Complex point_elevation(const Probe& probe, double sound_speed_m_s, double frequency_Hz, double distance_m,
                        double elevation_m = 0.0);

/// Out and back to a long wire at distance R, per metre of wire: the integral over y of point_elevation squared, by
/// stationary phase. A pair of strips y1, y2 meets the wire half way between them:
///     sqrt(pi R / (j k)) mean over y1, y2 of exp(-2 j k (sqrt(R^2 + ((y1 - y2)/2)^2) - R))
/// which holds while the wire reaches past the element and k R is large.
Complex wire_elevation(const Probe& probe, double sound_speed_m_s, double frequency_Hz, double distance_m);

struct ElevationTerms {
    bool height = true;
    bool attenuation = true;
};

/// One-way factors over a range of distances, tabulated. For a wire, of which only the way out and back is known, each
/// way is given the square root of that at its own distance.
class ElevationTable {
  public:
    ElevationTable(const Probe& probe, const Medium& medium, TargetKind target, const ElevationTerms& terms,
                   const Frequencies& frequencies, double least_distance_m, double most_distance_m);

    /// Factors of one distance, linear between two rows: low[n] + fraction * (high[n] - low[n]).
    struct Rows {
        const Complex* low;
        const Complex* high;
        double fraction;
        Complex at(std::size_t n) const { return low[n] + fraction * (high[n] - low[n]); }
    };
    Rows at(double distance_m) const;

  private:
    double least_m_;
    double step_m_;
    std::vector<Spectrum> rows_;
};

}  // namespace echoloom
