#pragma once
/// Points, wires and groups of wires, from settings.

#include "phantoms/phantom.h"

namespace echoloom {

/// Adds every [[point]], [[wire]] and [[wire_group]], with their truth.
void read_targets(Settings& settings, Phantom& phantom);

}  // namespace echoloom
