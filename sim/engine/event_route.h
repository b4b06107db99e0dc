#pragma once
/// The direct route: each event's transmitted field at each scatterer, then its echo on each receiver. Cheaper than the
/// full matrix where events are few, or scatterers, or both.

#include <span>

#include "sim/engine/full_matrix.h"

namespace echoloom {

/// Adds every scatterer's echoes of some events of a scan to `samples` [event, channel, sample]. All of the phantom's
/// scatterers are held at once. The result does not depend on the work settings, nor on which events come together.
void add_events(const Phantom& phantom, const EngineContext& context, const CellGrid& grid, const FullMatrixWork& work,
                const Scan& scan, std::span<const TransmitEvent> events, std::span<float> samples);

/// A cell's window widened by the time over which an event's wave passes it, for the event of a scan for which that is
/// longest.
WindowPlan plan_event_window(const EngineContext& context, const Scan& scan, std::span<const Scatterer> cell);

}  // namespace echoloom
