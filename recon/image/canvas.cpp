#include "recon/image/canvas.h"

#include <algorithm>
#include <cmath>

namespace echoloom {

bool Rect::overlaps(const Rect& other) const {
    return x < other.right() && other.x < right() && y < other.bottom() && other.y < bottom();
}

bool Rect::contains(const Rect& other) const {
    return x <= other.x && other.right() <= right() && y <= other.y && other.bottom() <= bottom();
}

Rect intersection(const Rect& a, const Rect& b) {
    const int x = std::max(a.x, b.x);
    const int y = std::max(a.y, b.y);
    return {x, y, std::max(0, std::min(a.right(), b.right()) - x), std::max(0, std::min(a.bottom(), b.bottom()) - y)};
}

Mask turned_left(const Mask& mask) {
    Mask turned{mask.height, mask.width, std::vector<std::uint8_t>(mask.coverage.size())};
    for (int y = 0; y < mask.height; ++y) {
        for (int x = 0; x < mask.width; ++x) {
            const auto to = static_cast<std::size_t>((mask.width - 1 - x) * turned.width + y);
            turned.coverage[to] = mask.coverage[static_cast<std::size_t>(y * mask.width + x)];
        }
    }
    return turned;
}

Canvas::Canvas(int width, int height, Colour background)
    : width_(std::max(width, 0)),
      height_(std::max(height, 0)),
      pixels_(static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_), background) {}

void Canvas::fill(const Rect& rect, Colour colour) {
    const Rect inside = intersection(rect, bounds());
    for (int y = inside.y; y < inside.bottom(); ++y) {
        std::fill_n(pixels_.begin() + static_cast<std::ptrdiff_t>(index(inside.x, y)), inside.width, colour);
    }
}

void Canvas::blend_pixel(int x, int y, Colour colour, int coverage) {
    Colour& pixel = pixels_[index(x, y)];
    const auto mix = [coverage](int below, int above) {
        return static_cast<std::uint8_t>((below * (255 - coverage) + above * coverage + 127) / 255);
    };
    pixel = {mix(pixel.red, colour.red), mix(pixel.green, colour.green), mix(pixel.blue, colour.blue)};
}

void Canvas::blend(const Mask& mask, int x, int y, Colour colour) {
    const Rect inside = intersection({x, y, mask.width, mask.height}, bounds());
    for (int row = inside.y; row < inside.bottom(); ++row) {
        for (int column = inside.x; column < inside.right(); ++column) {
            const auto from = static_cast<std::size_t>((row - y) * mask.width + (column - x));
            blend_pixel(column, row, colour, mask.coverage[from]);
        }
    }
}

namespace {

double distance_to_segment(Position p, Position a, Position b) {
    const double dx = b.x - a.x;
    const double dy = b.y - a.y;
    const double length_squared = dx * dx + dy * dy;
    double along = 0.0;
    if (length_squared > 0.0) {
        along = std::clamp(((p.x - a.x) * dx + (p.y - a.y) * dy) / length_squared, 0.0, 1.0);
    }
    return std::hypot(p.x - a.x - along * dx, p.y - a.y - along * dy);
}

/// Pixels a segment may touch.
Rect reach(Position a, Position b, double margin) {
    const int left = static_cast<int>(std::floor(std::min(a.x, b.x) - margin));
    const int top = static_cast<int>(std::floor(std::min(a.y, b.y) - margin));
    const int right = static_cast<int>(std::ceil(std::max(a.x, b.x) + margin));
    const int bottom = static_cast<int>(std::ceil(std::max(a.y, b.y) + margin));
    return {left, top, right - left, bottom - top};
}

}  // namespace

void Canvas::stroke(std::span<const Position> points, double width, Colour colour, const Rect& clip) {
    for (std::size_t i = 1; i < points.size(); ++i) {
        const Position a = points[i - 1];
        const Position b = points[i];
        const Rect inside = intersection(reach(a, b, width / 2.0 + 1.0), intersection(clip, bounds()));
        for (int y = inside.y; y < inside.bottom(); ++y) {
            for (int x = inside.x; x < inside.right(); ++x) {
                const double distance = distance_to_segment({x + 0.5, y + 0.5}, a, b);
                const double covered = std::clamp(width / 2.0 + 0.5 - distance, 0.0, 1.0);
                blend_pixel(x, y, colour, static_cast<int>(std::lround(covered * 255.0)));
            }
        }
    }
}

}  // namespace echoloom
