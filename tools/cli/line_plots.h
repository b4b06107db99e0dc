#pragma once
/// The line plots that go with images: lateral profiles at three depths, and width against depth.

#include <filesystem>
#include <span>
#include <vector>

#include "recon/image/image.h"
#include "recon/measure/report.h"

namespace echoloom {

/// Most images one plot takes.
inline constexpr std::size_t max_curves = 8;

/// Everything draw_line_plots() may write in a folder; with `sections`, draw_section_plots() too.
std::vector<std::filesystem::path> line_plot_files(const std::filesystem::path& folder, bool sections = false);

/// Profiles through the shallowest, the middle and the deepest of the true points that every image shows, and width
/// against depth where these lie at more than one. Returns the pictures drawn; none where no point is shown by all.
/// Throws MachineError without gnuplot.
std::vector<std::filesystem::path> draw_line_plots(std::span<const Image> images, std::span<const ImageReport> reports,
                                                   const std::filesystem::path& folder);

/// Contrast and speckle size against depth, side lobes against width: those that the reports' sections have numbers
/// for.
std::vector<std::filesystem::path> draw_section_plots(std::span<const ImageReport> reports,
                                                      const std::filesystem::path& folder);

}  // namespace echoloom
