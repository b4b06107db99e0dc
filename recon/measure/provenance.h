#pragma once
/// The footer of a plot of measurements.

#include <string>

#include "recon/image/image.h"

namespace echoloom {

/// Probe and scan on one line, the caution on the next.
std::string provenance(const Image& image);

}  // namespace echoloom
