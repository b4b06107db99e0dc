#pragma once
/// Regions of speckle, layers, and the inclusions in both, from settings.

#include "phantoms/phantom.h"
#include "phantoms/places.h"

namespace echoloom {

/// Adds every [[speckle]] and [[layer]], with their truth. The medium has been read.
void read_regions(Settings& settings, Names& names, Phantom& phantom);

}  // namespace echoloom
