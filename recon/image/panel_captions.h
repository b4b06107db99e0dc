#pragma once
/// The text on a page of panels: what its images share in the caption, what tells them apart in the titles.

#include <span>
#include <string>
#include <vector>

#include "recon/image/image.h"

namespace echoloom {

/// A title for each image, of its probe, its scan and its recipe's title, each only where not all images agree on it;
/// the recipe's title where they agree on all. Equal ones are told apart by `names` (of files), where there are any.
std::vector<std::string> panel_titles(std::span<const Image> images, std::span<const std::string> names);

/// Probe, scan and frame rate where all images share them; a frame rate that they do not share panel by panel, by the
/// letters A, B, C ...
std::string shared_caption(std::span<const Image> images);

}  // namespace echoloom
