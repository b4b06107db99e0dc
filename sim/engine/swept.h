#pragma once
/// Echoes of an annular array on a rotating head: every event sees the phantom from another side, and receives it
/// from yet another, so nothing is shared between events and reciprocity does not help.
///
/// For one scatterer and event the head transmits from its pose at time zero and receives, on each ring, from its pose
/// when the echo arrives, 2 |s - face centre| / c later. Scatterers of like arrival share a short window, as cells do
/// for flat arrays, and only the bins of that window are computed.

#include "phantoms/phantom.h"
#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/engine/simulate.h"

namespace echoloom {

/// True where the probe's elements are rings.
bool is_ring_probe(const Probe& probe);

/// As estimate() and simulate() of sim/engine/simulate.h, for probes of rings.
Estimate estimate_swept(const Phantom& phantom, const Scan& scan, const EngineSettings& settings);
void simulate_swept(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings,
                    const EventSink& sink);

}  // namespace echoloom
