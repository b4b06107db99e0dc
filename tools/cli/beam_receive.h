#pragma once
/// How an event is listened to: by the scan's own means, or by a recipe.

#include <optional>
#include <string>

#include "recon/beamform/recipe.h"
#include "sim/engine/beam_field.h"

namespace echoloom {

struct ReceiveTheory {
    Reception listening;
    std::string words;              ///< "rectangular weights, focused at every depth": for people
    std::optional<double> focus_m;  ///< held there; none where it follows or there is none
};

/// All elements that listen to the event, alike, focused where it was sent to: the same everywhere. Without a focus
/// they listen along its direction.
ReceiveTheory own_listening(const Probe& probe, const Scan& scan, const TransmitEvent& event);

/// The recipe's receive rule about the event's line. Throws InputError where it does not fit the scan.
ReceiveTheory recipe_listening(const Probe& probe, const Scan& scan, const TransmitEvent& event, const Recipe& recipe);

}  // namespace echoloom
