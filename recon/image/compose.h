#pragma once
/// What a single picture and a sheet share.

#include <span>
#include <string>

#include "recon/image/image.h"
#include "recon/image/page.h"

namespace echoloom {

/// The recipe's title, or its name where it has none.
std::string title_of(const Image& image);

GreyScale grey_scale_of(const Recipe& recipe);

/// Lays out and draws a page, one image per panel of `content`; `references` are their amplitudes of 0 dB.
Canvas compose(std::span<const Image> images, const PageContent& content, std::span<const double> references,
               const PageLimits& limits, bool mark_truth);

}  // namespace echoloom
