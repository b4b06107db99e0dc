#pragma once
/// Plots of the sections of reports, drawn as plot.h draws widths: NAME.csv, NAME.gp, NAME.png and NAME.svg.

#include <filesystem>
#include <optional>
#include <span>
#include <string>

#include "recon/measure/report.h"

namespace echoloom {

/// Contrast of regions against depth, marks with 95 % bars, one mark per image; regions of one true contrast joined;
/// the truth as black dashes. Nothing where no image has two regions. At most 8 images.
std::optional<std::filesystem::path> plot_contrast(std::span<const ImageReport> images,
                                                   const std::filesystem::path& folder,
                                                   const std::string& name = "contrast");

/// Lateral speckle size against depth, beside the predicted one (dashes). Nothing where no image has two bands.
std::optional<std::filesystem::path> plot_speckle_sizes(std::span<const ImageReport> images,
                                                        const std::filesystem::path& folder,
                                                        const std::string& name = "speckle_size");

/// Peak side lobe of one point above the width of its main lobe, image by image (windows, say): measured (marks),
/// predicted (dashes) and theory (hollow). Of the points whose side lobe is known in most images, at least two, the
/// middle one; otherwise nothing.
std::optional<std::filesystem::path> plot_side_lobes(std::span<const ImageReport> images,
                                                     const std::filesystem::path& folder,
                                                     const std::string& name = "side_lobes");

}  // namespace echoloom
