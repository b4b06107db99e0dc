#pragma once
/// The parts of a report beyond widths: side lobes, grating lobes, regions, speckle, slice, distances, penetration.
/// Each is empty (no rows) where the image has nothing of the kind.

#include <span>
#include <vector>

#include "recon/image/image.h"
#include "recon/measure/report.h"
#include "recon/measure/section.h"

namespace echoloom {

/// Those that have rows, in that order. `report` holds the image's points, measured.
std::vector<Section> report_sections(const Image& image, const ImageReport& report);

Section side_lobe_section(const Image& image, std::span<const PointReport> points);
Section grating_section(const Image& image, std::span<const PointReport> points);
Section region_section(const Image& image);
Section speckle_section(const Image& image);
Section slice_section(const Image& image);
Section distance_section(const Image& image, std::span<const PointReport> points);
Section penetration_section(const Image& image);

}  // namespace echoloom
