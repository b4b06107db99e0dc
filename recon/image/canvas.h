#pragma once
/// A raster in memory to draw a page on. x runs right, y down; pixel (i, j) covers [i, i+1) x [j, j+1).

#include <cstdint>
#include <span>
#include <vector>

namespace echoloom {

struct Colour {
    std::uint8_t red = 0, green = 0, blue = 0;
    friend bool operator==(const Colour&, const Colour&) = default;
};
constexpr Colour grey(std::uint8_t level) {
    return {level, level, level};
}

struct Rect {
    int x = 0, y = 0, width = 0, height = 0;
    int right() const { return x + width; }    ///< first column beyond
    int bottom() const { return y + height; }  ///< first row beyond
    bool overlaps(const Rect& other) const;
    bool contains(const Rect& other) const;
    friend bool operator==(const Rect&, const Rect&) = default;
};
Rect intersection(const Rect& a, const Rect& b);

/// How much of each pixel a shape covers, 0 to 255, row by row.
struct Mask {
    int width = 0, height = 0;
    std::vector<std::uint8_t> coverage;
};
/// The mask turned a quarter to the left, so that text reads upwards.
Mask turned_left(const Mask& mask);

struct Position {
    double x = 0.0, y = 0.0;
};

class Canvas {
  public:
    Canvas(int width, int height, Colour background);

    int width() const { return width_; }
    int height() const { return height_; }
    Rect bounds() const { return {0, 0, width_, height_}; }
    Colour at(int x, int y) const { return pixels_[index(x, y)]; }
    std::span<const Colour> pixels() const { return pixels_; }

    // Everything drawn is cut at the edge of the canvas.
    void set(int x, int y, Colour colour) {
        if (x >= 0 && x < width_ && y >= 0 && y < height_) {
            pixels_[index(x, y)] = colour;
        }
    }
    void fill(const Rect& rect, Colour colour);
    /// Mask with its top left corner at (x, y).
    void blend(const Mask& mask, int x, int y, Colour colour);
    /// A line of round ends through the points, cut at `clip`.
    void stroke(std::span<const Position> points, double width, Colour colour, const Rect& clip);

  private:
    std::size_t index(int x, int y) const {
        return static_cast<std::size_t>(y) * static_cast<std::size_t>(width_) + static_cast<std::size_t>(x);
    }
    void blend_pixel(int x, int y, Colour colour, int coverage);
    int width_;
    int height_;
    std::vector<Colour> pixels_;
};

}  // namespace echoloom
