#pragma once
/// The slow, exact twin of the engine: one product for each frequency bin of the whole record, in double precision,
/// with no cells, no windows, no virtual elements and no interpolation. Tests hold the engine to it; nothing else calls
/// it.

#include <span>
#include <vector>

#include "phantoms/phantom.h"
#include "sim/array/probe.h"
#include "sim/array/scan.h"

namespace echoloom {

/// Samples [event, channel, sample] of some scatterers in front of an array of rectangles, by the formulas of
/// DEVELOPERS.md "The physics" as they stand. Time and memory grow with scatterers x elements x face points x bins:
/// tens of scatterers take seconds.
std::vector<float> simulate_by_global_bins(std::span<const Scatterer> scatterers, const Medium& medium,
                                           const Probe& probe, const Scan& scan);

}  // namespace echoloom
