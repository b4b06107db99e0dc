#pragma once
/// The high-pass of the receiver: a smooth zero-phase high-pass on every trace before the sum.
///
/// Low frequencies hardly attenuate, leave an element in all directions and add up coherently whatever the delays, so
/// that a pulse whose spectrum has not quite ended at 0 Hz fills the picture around bright echoes with a slow haze; a
/// acquisition system adds offset and drift. No receiver lets them through.

#include "recon/beamform/recipe.h"
#include "sim/recording/recording.h"

namespace echoloom {

/// Nothing below one frequency, all above another, a raised cosine between. In cycles per sample.
struct HighPass {
    double nothing_below = 0.0;
    double all_above = 0.0;  ///< 0: no cut

    bool none() const { return !(all_above > 0.0); }
    double gain(double frequency) const;
};

/// Half the amplitude at the recipe's frequency, nothing below a third of it, all above five thirds. Throws InputError
/// where it would cut the probe's own centre frequency.
HighPass high_pass(const Recipe& recipe, const RecordingInfo& info);

}  // namespace echoloom
