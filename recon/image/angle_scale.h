#pragma once
/// A scale of degrees outside the deep end of a fan of lines, in pixels from the top left corner of the fan's extent.

#include <string>
#include <vector>

#include "recon/image/canvas.h"
#include "recon/image/font.h"
#include "recon/image/scan_lines.h"

namespace echoloom {

/// A tick that goes on along a line, and its label if it has one.
struct AngleMark {
    Position from, to;
    std::string label;  ///< "-30 deg" with a true minus and the sign; may be empty
    Rect box;           ///< of the label
};

/// Marks at round angles from +z, as far apart as legible labels need. Empty for a fan too small for two labels.
std::vector<AngleMark> angle_marks(const FanEdge& fan, const Extent& extent, double pixels_per_m, const Font& font,
                                   double text_size);

}  // namespace echoloom
