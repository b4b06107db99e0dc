#pragma once
/// What theory leaves out, or takes as simpler than it is, for the geometry of an image.

#include <string>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

/// One sentence each; empty for parallel lines of a flat array that stands still.
std::vector<std::string> theory_notes(const Image& image);

}  // namespace echoloom
