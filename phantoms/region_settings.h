#pragma once
/// Regions of speckle, layers, and the inclusions in both, from settings.

#include "phantoms/phantom.h"

namespace echoloom {

/// Adds every [[speckle]] and [[layer]], with their truth. The medium has been read.
void read_regions(Settings& settings, Phantom& phantom);

}  // namespace echoloom
