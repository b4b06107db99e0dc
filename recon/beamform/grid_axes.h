#pragma once
/// Where the samples of an image lie: from the recipe where it says so, else from the recording.

#include "recon/beamform/beamform.h"
#include "recon/beamform/scan_kind.h"

namespace echoloom {

/// Throws InputError for a grid the recording cannot fill.
LineGrid line_grid(const Recipe& recipe, const RecordingInfo& info);
CartesianGrid cartesian_grid(const Recipe& recipe, const RecordingInfo& info);

}  // namespace echoloom
