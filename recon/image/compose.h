#pragma once
/// What a single picture and a page of panels share.

#include <span>
#include <string>
#include <vector>

#include "recon/image/image.h"
#include "recon/image/page.h"

namespace echoloom {

/// The recipe's title, or its name where it has none.
std::string title_of(const Image& image);

GreyScale grey_scale_of(const Recipe& recipe);

/// What each image's panel shows: all that was scanned; the depths they share where these differ by less than 2 %, so
/// that panels stand at one height; and a margin beside an image too narrow for its axis.
std::vector<Extent> panel_extents(std::span<const Image> images);

/// The raster over another extent, cut off or with nothing scanned where it did not reach.
Raster fitted(Raster raster, const Extent& extent);

/// Lays out and draws a page, one image per panel of `content`; `references` are their amplitudes of 0 dB.
Canvas compose(std::span<const Image> images, const PageContent& content, std::span<const double> references,
               const PageLimits& limits, bool mark_truth);

}  // namespace echoloom
