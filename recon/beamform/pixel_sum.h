#pragma once
/// Delay-and-sum pixel by pixel: plane and diverging waves, full matrices, and retrospective transmit focus.

#include "recon/beamform/beamform.h"
#include "recon/beamform/scan_kind.h"

namespace echoloom {

/// Analytic sum of each pixel, [column, depth]. Events stream through in batches, as many as memory for prepared traces
/// allows (pixel_traces.h); a batch is summed tile by tile. A column is taken as a line from its own start where the
/// receive focus is not dynamic.
///
/// Retrospective: an event counts at a pixel by its place in the event's cone, and by the share of the pixel's receive
/// aperture that received; divided by the sum of both where the recipe says so.
Beamformed sum_pixels(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, Grid grid,
                      ScanKind kind, bool quiet);

}  // namespace echoloom
