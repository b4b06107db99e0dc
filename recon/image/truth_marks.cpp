#include "recon/image/truth_marks.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "recon/image/page.h"

namespace echoloom {

namespace {

/// How far the plane y = 0 shrinks a region's half sizes along x and z; empty where it misses the region.
std::optional<double> cross_section(const TrueRegion& region) {
    const double away = std::abs(region.center_m.y());
    if (away > region.half_size_m.y()) {
        return std::nullopt;
    }
    if (region.shape == RegionShape::box || region.shape == RegionShape::cylinder || away == 0.0) {
        return 1.0;
    }
    const double share = away / region.half_size_m.y();
    return std::sqrt(1.0 - share * share);
}

std::vector<Position> outline(RegionShape shape, double x, double z, double half_x, double half_z) {
    if (shape == RegionShape::box) {
        return {{x - half_x, z - half_z},
                {x + half_x, z - half_z},
                {x + half_x, z + half_z},
                {x - half_x, z + half_z},
                {x - half_x, z - half_z}};
    }
    constexpr int corners = 96;
    std::vector<Position> points;
    for (int i = 0; i <= corners; ++i) {
        const double angle = 2.0 * std::numbers::pi * i / corners;
        points.push_back({x + half_x * std::cos(angle), z + half_z * std::sin(angle)});
    }
    return points;
}

}  // namespace

void draw_truth(Canvas& canvas, const Rect& place, const Extent& extent, double pixels_per_m, const Truth& truth,
                double text_size) {
    const double width = std::max(1.5, text_size / 14.0);
    const auto draw = [&](RegionShape shape, const Vec3& center_m, double half_x_m, double half_z_m) {
        std::vector<Position> points = outline(shape, center_m.x(), center_m.z(), half_x_m, half_z_m);
        for (Position& point : points) {
            point = {place.x + (point.x - extent.min_x_m) * pixels_per_m,
                     place.y + (point.y - extent.min_z_m) * pixels_per_m};
        }
        canvas.stroke(points, width, mark_colour, place);
    };
    for (const TrueRegion& region : truth.regions) {
        if (const std::optional<double> share = cross_section(region)) {
            draw(region.shape, region.center_m, *share * region.half_size_m.x(), *share * region.half_size_m.z());
        }
    }
    // Small on a small panel, lest the rings of neighbours run together.
    constexpr double max_m = 3e-3;
    constexpr double min_pixels = 6.0;
    const double ring_m = std::min(0.6 * text_size, std::max(max_m * pixels_per_m, min_pixels)) / pixels_per_m;
    for (const TruePoint& point : truth.points) {
        draw(RegionShape::sphere, point.position_m, ring_m, ring_m);
    }
}

}  // namespace echoloom
