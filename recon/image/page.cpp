#include "recon/image/page.h"

#include <algorithm>
#include <cmath>

namespace echoloom {

namespace {

/// Offset of a line of text within the room it has.
int aligned(Align align, int room, int length) {
    switch (align) {
        case Align::left:
            return 0;
        case Align::right:
            return room - length;
        case Align::centre:
            break;
    }
    return (room - length) / 2;
}

void draw_text(Canvas& canvas, const PlacedText& text, const Fonts& fonts, Colour colour) {
    const Font& font = text.bold ? fonts.bold : fonts.regular;
    int offset = 0;
    for (const std::string& line : text.lines) {
        const Mask mask = font.draw(line, text.size);
        if (text.upwards) {
            const int along = aligned(text.align, text.box.height, mask.width);
            canvas.blend(turned_left(mask), text.box.x + offset, text.box.y + along, colour);
        } else {
            const int along = aligned(text.align, text.box.width, mask.width);
            canvas.blend(mask, text.box.x + along, text.box.y + offset, colour);
        }
        offset += mask.height;
    }
}

void draw_bar(Canvas& canvas, const Rect& bar, const GreyScale& scale) {
    for (int column = 0; column < bar.width; ++column) {
        const double level_dB = scale.black_dB() + scale.range_dB * (column + 0.5) / bar.width;
        canvas.fill({bar.x + column, bar.y, 1, bar.height}, grey(grey_level(scale, level_dB)));
    }
    // White would melt into the page.
    const double left = bar.x - 0.5;
    const double right = bar.right() + 0.5;
    const double top = bar.y - 0.5;
    const double bottom = bar.bottom() + 0.5;
    const std::vector<Position> frame{{left, top}, {right, top}, {right, bottom}, {left, bottom}, {left, top}};
    canvas.stroke(frame, 1.0, ink_colour, canvas.bounds());
}

}  // namespace

Canvas draw_page(const PageLayout& layout, const GreyScale& scale, const Fonts& fonts) {
    Canvas canvas(layout.width, layout.height, page_colour);
    for (const Rect& tick : layout.ticks) {
        canvas.fill(tick, ink_colour);
    }
    draw_bar(canvas, layout.bar, scale);
    for (const PlacedText& text : layout.texts) {
        draw_text(canvas, text, fonts, ink_colour);
    }
    for (const PlacedText& badge : layout.badges) {
        canvas.fill(badge.box, ink_colour);
        draw_text(canvas, badge, fonts, page_colour);
    }
    return canvas;
}

void draw_angle_scales(Canvas& canvas, const PageLayout& layout, const Fonts& fonts) {
    for (const auto& [from, to] : layout.angle_ticks) {
        const std::vector<Position> tick{from, to};
        canvas.stroke(tick, 2.0, ink_colour, canvas.bounds());
    }
    for (const PlacedText& label : layout.angle_labels) {
        draw_text(canvas, label, fonts, ink_colour);
    }
}

void draw_panel(Canvas& canvas, const Rect& place, const Raster& raster, const GreyScale& scale, double reference) {
    const GreyTable grey_of(scale, reference);
    const int width = std::min(place.width, raster.width);
    const int height = std::min(place.height, raster.height);
#pragma omp parallel for schedule(static)
    for (int row = 0; row < height; ++row) {
        for (int column = 0; column < width; ++column) {
            const float value = raster.at(column, row);
            canvas.set(place.x + column, place.y + row, std::isnan(value) ? outside_colour : grey(grey_of(value)));
        }
    }
}

}  // namespace echoloom
