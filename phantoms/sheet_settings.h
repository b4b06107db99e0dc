#pragma once
/// Inclined sheets of scatterers, from settings.

#include "phantoms/phantom.h"
#include "phantoms/places.h"

namespace echoloom {

/// Adds every [[sheet]], with its truth.
void read_sheets(Settings& settings, Names& names, Phantom& phantom);

}  // namespace echoloom
