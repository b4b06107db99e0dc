#pragma once
/// The receive beam of an event: by the scan's own means, or by a recipe.

#include <optional>
#include <string>

#include "recon/beamform/recipe.h"
#include "sim/engine/beam_field.h"

namespace echoloom {

struct ReceiveTheory {
    Reception reception;
    std::string words;              ///< "rectangular weights, focused at every depth": for people
    std::optional<double> focus_m;  ///< held there; none where it follows or there is none
};

/// All elements that receive the event, with equal weights, focused as it was transmitted: the same everywhere. Without
/// a focus they receive along its direction.
ReceiveTheory own_receive(const Probe& probe, const Scan& scan, const TransmitEvent& event);

/// The recipe's receive settings along the event's line. Throws InputError where it does not fit the scan.
ReceiveTheory recipe_receive(const Probe& probe, const Scan& scan, const TransmitEvent& event, const Recipe& recipe);

}  // namespace echoloom
