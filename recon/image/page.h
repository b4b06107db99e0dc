#pragma once
/// Drawing a page that has been laid out.

#include "recon/image/canvas.h"
#include "recon/image/page_layout.h"
#include "recon/image/scan_conversion.h"

namespace echoloom {

// A light page with dark letters. Outside the scanned area a panel is a grey that is neither the page's nor black.
inline constexpr Colour page_colour = grey(250);
inline constexpr Colour ink_colour = grey(28);
inline constexpr Colour outside_colour = grey(216);
inline constexpr Colour mark_colour = {226, 118, 20};

/// The page with its text, ticks and grey bar; the panels still to come.
Canvas draw_page(const PageLayout& layout, const GreyScale& scale, const Fonts& fonts);

/// The scales of degrees, over panels that are drawn already.
void draw_angle_scales(Canvas& canvas, const PageLayout& layout, const Fonts& fonts);

/// A panel at its place; `reference` is the amplitude of 0 dB.
void draw_panel(Canvas& canvas, const Rect& place, const Raster& raster, const GreyScale& scale, double reference);

}  // namespace echoloom
