#pragma once
/// Delay-and-sum of scan lines.

#include "recon/beamform/beamform.h"

namespace echoloom {

/// RF of each line, [line, depth]. Events stream through one at a time; the tables of delays and weights are kept for
/// lines whose channels sit the same way around their origin.
Beamformed sum_lines(const RecordingInfo& info, const EventReader& read_event, const Recipe& recipe, LineGrid grid,
                     bool quiet);

}  // namespace echoloom
