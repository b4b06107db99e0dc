#pragma once
/// What a path through the medium does to a frequency, and how long an echo rings after it.

#include <complex>
#include <cstddef>
#include <vector>

#include "sim/array/pulse.h"
#include "sim/base/medium.h"

namespace echoloom {

/// gamma(f) = a(f) + j (k(f) - 2 pi f / c), per metre: attenuation, and what dispersion adds to the wavenumber. A path
/// R multiplies the spectrum by exp(-gamma R) beside its travel time R / c.
///
/// Dispersion that goes with a(f) = a0 f^n so that the echo stays causal: T. L. Szabo, J. Acoust. Soc. Am. 97, 14-24,
/// 1995; the speed is the medium's at `reference_Hz`.
std::complex<double> path_constant(const Medium& medium, double frequency_Hz, double reference_Hz);

/// The span of an echo about its travel time, in samples, that holds all but a stated part of its L2 norm.
struct EchoSpan {
    int before = 0;
    int after = 0;
};

/// Spans and bands of echoes against the length of their path, tabulated once.
class EchoTable {
  public:
    EchoTable(const Pulse& pulse, const Medium& medium, double reference_Hz, double sampling_rate_Hz,
              double longest_path_m, double tolerance);

    /// Largest span of any path between the two lengths (transmit and receive together) that leaves out at most `part`
    /// of the echo's L2 norm. Zero-phase attenuation has a kink at zero frequency, whose slow tail does not fall with
    /// the element's directivity as the rest of the echo does: a weak, oblique echo needs a smaller part of its on-axis
    /// norm.
    EchoSpan span(double least_path_m, double most_path_m, double part) const;

    /// The on-axis echo's amplitude spectrum after a path, sampled at `count` frequencies over the band of `path_m`.
    struct Amplitude {
        double frequency_Hz = 0.0;
        double value = 0.0;
    };
    std::vector<Amplitude> amplitudes(double path_m, std::size_t count) const;
    bool has_tails() const { return spans_.size() > 1; }

    /// Lowest and highest frequency at which such an echo's spectrum exceeds `tolerance` / 3 of its peak.
    struct Band {
        double low_Hz = 0.0;
        double high_Hz = 0.0;
    };
    Band band(double least_path_m, double most_path_m) const;

    /// The widest of all spans at the table's own tolerance.
    EchoSpan widest() const;

  private:
    std::size_t entry(double path_m, bool up) const;
    Pulse pulse_;
    Medium medium_;
    double reference_Hz_;
    double tolerance_;
    double step_m_ = 1.0;
    std::vector<std::vector<EchoSpan>> spans_;  ///< [path][level]; each level halves the part left out
    std::vector<Band> bands_;
};

}  // namespace echoloom
