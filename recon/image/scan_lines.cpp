#include "recon/image/scan_lines.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/error.h"

namespace echoloom {

namespace {

/// A grid of either kind as lines.
LineGrid as_lines(const Grid& grid) {
    if (const auto* lines = std::get_if<LineGrid>(&grid)) {
        return *lines;
    }
    const auto& cartesian = std::get<CartesianGrid>(grid);
    LineGrid lines;
    lines.depth_m = cartesian.depth_m;
    for (const double x : cartesian.x_m) {
        lines.origin_m.emplace_back(x, 0.0, 0.0);
        lines.direction.emplace_back(Vec3::UnitZ());
    }
    return lines;
}

constexpr double rounding_m = 1e-9;  ///< points this far outside still count as on the edge

}  // namespace

ScanLines::ScanLines(const Grid& grid) {
    const LineGrid source = as_lines(grid);
    if (source.origin_m.empty() || source.depth_m.size() < 2) {
        throw InputError("an image of " + std::to_string(source.origin_m.size()) + " lines and " +
                         std::to_string(source.depth_m.size()) + " depths cannot be drawn; it needs 1 and 2");
    }
    for (std::size_t i = 0; i < source.origin_m.size(); ++i) {
        const Vec3& origin = source.origin_m[i];
        const double length = std::hypot(source.direction[i].x(), source.direction[i].z());
        lines_.push_back({origin.x(), origin.z(), source.direction[i].x() / length, source.direction[i].z() / length});
    }
    least_depth_m_ = source.depth_m.front();
    last_depth_index_ = static_cast<double>(source.depth_m.size() - 1);
    depth_step_m_ = (source.depth_m.back() - source.depth_m.front()) / last_depth_index_;

    if (lines_.size() == 1) {
        single_ = true;
        const double half_width = 0.05 * depth_step_m_ * last_depth_index_;
        lines_.push_back(lines_.front());
        lines_.front().origin_x -= half_width;
        lines_.back().origin_x += half_width;
    }
    const Line& last = lines_.back();
    const double middle = least_depth_m_ + 0.5 * depth_step_m_ * last_depth_index_;
    reversed_ =
        lines_.front().side(last.origin_x + middle * last.direction_x, last.origin_z + middle * last.direction_z) < 0.0;
    if (reversed_) {
        std::ranges::reverse(lines_);
    }
}

Extent ScanLines::extent() const {
    constexpr double infinite = std::numeric_limits<double>::infinity();
    Extent extent{infinite, -infinite, infinite, -infinite};
    for (const Line& line : lines_) {
        for (const double depth : {least_depth_m_, least_depth_m_ + depth_step_m_ * last_depth_index_}) {
            const double x = line.origin_x + depth * line.direction_x;
            const double z = line.origin_z + depth * line.direction_z;
            extent.least_x_m = std::min(extent.least_x_m, x);
            extent.most_x_m = std::max(extent.most_x_m, x);
            extent.least_z_m = std::min(extent.least_z_m, z);
            extent.most_z_m = std::max(extent.most_z_m, z);
        }
    }
    return extent;
}

double ScanLines::depth_index(const Line& left, const Line& right, double fraction, double x, double z) const {
    // Depth along the line that runs through the point, between its two neighbours.
    const double origin_x = std::lerp(left.origin_x, right.origin_x, fraction);
    const double origin_z = std::lerp(left.origin_z, right.origin_z, fraction);
    const double direction_x = std::lerp(left.direction_x, right.direction_x, fraction);
    const double direction_z = std::lerp(left.direction_z, right.direction_z, fraction);
    const double depth = ((x - origin_x) * direction_x + (z - origin_z) * direction_z) /
                         std::sqrt(direction_x * direction_x + direction_z * direction_z);
    return (depth - least_depth_m_) / depth_step_m_;
}

std::optional<LinePlace> ScanLines::locate(double x, double z, std::size_t& hint) const {
    std::size_t i = std::min(hint, lines_.size() - 2);
    while (i > 0 && lines_[i].side(x, z) < 0.0) {
        --i;
    }
    while (i + 2 < lines_.size() && lines_[i + 1].side(x, z) >= 0.0) {
        ++i;
    }
    hint = i;
    const double from_left = lines_[i].side(x, z);
    const double to_right = -lines_[i + 1].side(x, z);
    if (from_left < -rounding_m || to_right < -rounding_m) {
        return std::nullopt;
    }
    const double gap = from_left + to_right;
    const double fraction = gap > 0.0 ? std::clamp(from_left / gap, 0.0, 1.0) : 0.0;
    const double depth = depth_index(lines_[i], lines_[i + 1], fraction, x, z);
    const double tolerance = rounding_m / depth_step_m_;
    if (depth < -tolerance || depth > last_depth_index_ + tolerance) {
        return std::nullopt;
    }
    const double line = static_cast<double>(i) + fraction;
    const double column = single_ ? 0.0 : reversed_ ? static_cast<double>(lines_.size() - 1) - line : line;
    return LinePlace{column, std::clamp(depth, 0.0, last_depth_index_)};
}

}  // namespace echoloom
