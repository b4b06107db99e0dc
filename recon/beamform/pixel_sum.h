#pragma once
/// Delay-and-sum of a Cartesian grid from plane waves or a full matrix.

#include "recon/beamform/beamform.h"
#include "recon/beamform/scan_kind.h"

namespace echoloom {

/// Analytic sum of each pixel, [column, depth]. Events stream through in batches of at most 128 MiB of prepared traces;
/// within a batch delays and weights of a pixel's elements are found once. A column is taken as a line straight down
/// from z = 0 where the receive focus is not dynamic.
Beamformed sum_pixels(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe,
                      CartesianGrid grid, ScanKind kind, bool quiet);

}  // namespace echoloom
