#pragma once
/// The spectrum of a handful of waves, each an amplitude, a delay and an attenuation, at equally spaced frequencies.

#include <cstddef>
#include <span>
#include <vector>

#include "sim/base/aligned.h"

namespace echoloom {

/// Waves are handled in groups of this many, on every target alike, so that sums keep one order.
inline constexpr std::size_t wave_group = 16;

/// Each wave at the first frequency, and what it is multiplied by from one frequency to the next.
struct WaveBatch {
    AlignedVector<float> amplitude;       ///< padded to whole groups by silent waves
    AlignedVector<float> first_exponent;  ///< -(attenuation at the first frequency), in nepers
    AlignedVector<float> first_turns;     ///< phase lag at the first frequency, in turns
    AlignedVector<float> step_turns;      ///< and from each frequency to the next
    AlignedVector<float> step_exponent;   ///< -(attenuation from each frequency to the next), in nepers

    void clear();
    /// `step` of phase in turns and `exponent` of gain from each frequency to the next; the first frequency is
    /// `first_index` of them.
    void add(double weight, double first_index, double step, double exponent) {
        const double first = first_index * step;
        // Truncation is one instruction, std::round a call; half a turn more or less is all the same.
        const auto fraction = [](double turns) {
            return static_cast<float>(turns - static_cast<double>(static_cast<long long>(turns)));
        };
        amplitude.push_back(static_cast<float>(weight));
        first_exponent.push_back(static_cast<float>(first_index * exponent));
        first_turns.push_back(fraction(first));
        step_turns.push_back(fraction(step));
        step_exponent.push_back(static_cast<float>(exponent));
    }
    void pad();  ///< call after the last wave
};

/// Work space of one thread.
struct WaveScratch {
    AlignedVector<float> real, imaginary;  ///< [bin, wave of a group]
};

/// Sums [bin] over all waves: amplitude exp(-j 2 pi (first_turns + bin step_turns) + first_exponent + bin
/// step_exponent).
void wave_spectrum(const WaveBatch& batch, WaveScratch& scratch, std::span<float> real, std::span<float> imaginary);

}  // namespace echoloom
