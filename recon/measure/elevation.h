#pragma once
/// The one-way effect of an element's height, its lens and the medium's attenuation on a wave, apart from 1/R and the
/// delay R/c.

#include <vector>

#include "recon/measure/wave_sum.h"
#include "sim/array/probe.h"
#include "sim/base/medium.h"

namespace echoloom {

/// For a point y off the image plane at distance R within it, and a row of elements centred at y_r: the mean over the
/// element's height of R/R' exp(-j k (R' - R)), R'^2 = R^2 + (y - y')^2, with the lens's advance of y'.
Complex point_elevation(const Probe& probe, double sound_speed_m_s, double frequency_Hz, double distance_m,
                        double elevation_m = 0.0, double row_m = 0.0);

/// Out from one row of elements and back to another, to a wire along elevation, of a length centred on the image plane,
/// at distance R: the integral over the wire of the product of both point_elevation, in metres. A pair of strips y1, y2
/// sees a Fresnel zone of the wire half way between them, which the wire's ends cut off:
///     mean over y1, y2 of exp(-2 j k (sqrt(R^2 + ((y1 - y2)/2)^2) - R)) integral exp(-j k (y - (y1 + y2)/2)^2 / R) dy
/// Fresnel integrals to 2e-3 (Abramowitz & Stegun, Handbook of Mathematical Functions, 7.3.32-33, from memory).
Complex wire_elevation(const Probe& probe, double sound_speed_m_s, double frequency_Hz, double distance_m,
                       double length_m, double row_out_m = 0.0, double row_back_m = 0.0);

struct ElevationTerms {
    bool height = true;
    bool attenuation = true;
};

/// Where the target lies, seen from one row.
struct ElevationPlace {
    double elevation_m = 0.0;    ///< of a point
    double row_m = 0.0;          ///< centre of the row
    double wire_length_m = 0.0;  ///< 0 for a point
};

/// One-way factors over a range of distances, tabulated. For a wire, of which only the two-way
/// factor is known, each way is given the square root of that at its own distance.
class ElevationTable {
  public:
    ElevationTable(const Probe& probe, const Medium& medium, const ElevationPlace& place, const ElevationTerms& terms,
                   const Frequencies& frequencies, double min_distance_m, double max_distance_m);

    /// Factors of one distance, linear between two rows: low[n] + fraction * (high[n] - low[n]).
    struct Rows {
        const Complex* low;
        const Complex* high;
        double fraction;
        Complex at(std::size_t n) const { return low[n] + fraction * (high[n] - low[n]); }
    };
    Rows at(double distance_m) const;

  private:
    double min_m_;
    double step_m_ = 0.0;
    std::vector<Spectrum> rows_;
};

}  // namespace echoloom
