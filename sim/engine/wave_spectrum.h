#pragma once
/// The spectrum of a handful of waves, each an amplitude, a delay and an attenuation, at equally spaced frequencies.

#include <cstddef>
#include <span>
#include <vector>

#include "sim/engine/aligned.h"

namespace echoloom {

/// Waves are handled in groups of this many, on every target alike, so that sums keep one order.
inline constexpr std::size_t wave_group = 16;

/// Each wave at the first frequency, and what it is multiplied by from one frequency to the next.
struct WaveBatch {
    std::size_t count = 0;               ///< of waves added
    AlignedVector<float> amplitude;      ///< padded to whole groups by silent waves
    AlignedVector<float> first_turns;    ///< phase lag at the first frequency, in turns
    AlignedVector<float> step_turns;     ///< and from each frequency to the next
    AlignedVector<float> step_exponent;  ///< -(attenuation from each frequency to the next), in nepers

    void clear();
    void add(double amplitude_at_first, double first, double step, double exponent);
    void pad();  ///< call after the last wave
};

/// Work space of one thread.
struct WaveScratch {
    AlignedVector<float> real, imaginary;  ///< [bin, wave of a group]
};

/// Sums [bin]: exp(-j 2 pi (first_turns + bin step_turns) + bin step_exponent) amplitude over all waves.
void wave_spectrum(const WaveBatch& batch, WaveScratch& scratch, std::span<float> real, std::span<float> imaginary);

}  // namespace echoloom
