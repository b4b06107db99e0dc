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
/// 1995 (from memory); the speed is the medium's at `reference_Hz`.
std::complex<double> path_constant(const Medium& medium, double frequency_Hz, double reference_Hz);

/// All of a pulse's spectrum, or what of it lies between soft edges.
///
/// Zero-phase attenuation exp(-a |f|) has a kink at zero frequency that rings out slowly, as 1/t^2, and neither the
/// size of an element nor the delays of a beam weaken it as they weaken the rest of an echo. A part with a lower edge
/// vanishes at 0 Hz as f^4 and so keeps to a short window; the part that holds 0 Hz needs few bins and allows large
/// cells, and its window is judged against itself.
struct PulseBand {
    Pulse pulse;
    double above_Hz = 0.0;  ///< 0: from 0 Hz on
    double below_Hz = 0.0;  ///< 0: to the pulse's end

    /// A part ends at this many times its upper edge: 8e-5 is left there.
    static constexpr double end_over_edge = 3.45;

    bool is_whole() const { return above_Hz == 0.0 && below_Hz == 0.0; }
    bool holds_kink() const { return above_Hz == 0.0 && below_Hz > 0.0; }
    std::complex<double> spectrum(double frequency_Hz) const;
    /// S(f / below) - S(f / above), S(u) = (1 + u^2) exp(-u^2): of shapes that leave f^4 it lets a part ring least.
    double share(double frequency_Hz) const;
};

/// The span of an echo about its travel time, in samples, that holds all but a stated part of its L2 norm.
struct EchoSpan {
    int before = 0;
    int after = 0;
};

/// Frequencies below this level of the spectrum's peak are left out: well under the tolerance, for a beam that cancels
/// a direction in the middle of the band need not cancel it at its ends.
inline double band_edge_level(double tolerance) {
    return tolerance / 60.0;
}

/// Spans and bands of echoes against the length of their path, tabulated once.
class EchoTable {
  public:
    EchoTable(const PulseBand& band, const Medium& medium, double reference_Hz, double sampling_rate_Hz,
              double longest_path_m, double tolerance);

    /// Largest span of any path between the two lengths (transmit and receive together).
    EchoSpan span(double min_path_m, double max_path_m) const { return widest_of(spans_, min_path_m, max_path_m); }
    /// The same for the echo itself, without its slow tails.
    EchoSpan core(double min_path_m, double max_path_m) const { return widest_of(cores_, min_path_m, max_path_m); }
    /// The widest core of all.
    EchoSpan widest_core() const;

    /// Lowest and highest frequency that such an echo needs.
    struct Band {
        double low_Hz = 0.0;
        double high_Hz = 0.0;
    };
    Band band(double min_path_m, double max_path_m) const;

    /// The highest frequency that any path needs.
    double highest_Hz() const;

    /// True where this part of the pulse adds nothing that the tolerance could see, on any path.
    bool negligible() const { return negligible_; }

  private:
    std::size_t entry(double path_m, bool up) const;
    EchoSpan widest_of(const std::vector<EchoSpan>& spans, double min_path_m, double max_path_m) const;
    double step_m_ = 1.0;
    bool negligible_ = true;
    std::vector<EchoSpan> spans_;
    std::vector<EchoSpan> cores_;
    std::vector<Band> bands_;
};

}  // namespace echoloom
