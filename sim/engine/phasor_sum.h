#pragma once
/// Sums of phasors that turn from one frequency to the next: a face's points, seen from one place, over a band.

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

namespace echoloom {

/// Gathers sizes exp(-j 2 pi f time) and sums them at equal steps of f. Angles are found in double precision; a few
/// hundred turns in float stay within 1e-5. The same bits on every target: 16 side by side, added by halves, nothing
/// fused.
class PhasorSum {
  public:
    static constexpr std::size_t lanes = 16;

    /// The first frequency is so many steps.
    PhasorSum(unsigned first_steps, double step_Hz);
    void add(double size, double time_s);
    /// Adds the sums of all that was gathered, [bin]; then there is nothing gathered.
    void finish(std::span<std::complex<double>> sum);

  private:
    unsigned first_steps_;
    double step_;  ///< radians a second
    /// Of each phasor, whole groups of `lanes`.
    std::vector<float> real_, imaginary_, turn_real_, turn_imaginary_;
};

}  // namespace echoloom
