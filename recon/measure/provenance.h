#pragma once
/// What a plot of measurements says at its foot.

#include <string>

#include "recon/image/image.h"

namespace echoloom {

/// Probe and scan on one line, the caution on the next.
std::string provenance(const Image& image);

}  // namespace echoloom
