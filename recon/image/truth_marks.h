#pragma once
/// Ground truth drawn over a panel.

#include "recon/image/canvas.h"
#include "recon/image/scan_lines.h"
#include "sim/base/truth.h"

namespace echoloom {

/// Outlines, where they cross the image plane, of inclusions and of other regions, and a ring around each point. Line
/// widths grow with `text_size`.
void draw_truth(Canvas& canvas, const Rect& place, const Extent& extent, double pixels_per_m, const Truth& truth,
                double text_size);

}  // namespace echoloom
