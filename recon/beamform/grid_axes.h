#pragma once
/// Where the samples of an image lie: from the recipe where it says so, else from the recording.

#include "recon/beamform/array_places.h"
#include "recon/beamform/beamform.h"
#include "recon/beamform/scan_kind.h"

namespace echoloom {

/// Throws InputError for a grid the recording cannot fill.
Grid image_grid(const Recipe& recipe, const RecordingInfo& info, ScanKind kind);

/// Lines for scans of lines, as transmitted or retrospective.
LineGrid line_grid(const Recipe& recipe, const RecordingInfo& info);

/// The columns of an image of pixels, and the depths along them, which are the same for all.
struct PixelColumns {
    std::vector<LineStart> starts;
    std::vector<double> depth_m;
};
PixelColumns pixel_columns(const Grid& grid, const Probe& probe);

std::size_t column_count(const Grid& grid);
std::size_t depth_count(const Grid& grid);

}  // namespace echoloom
