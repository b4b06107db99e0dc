#include "recon/image/scan_lines.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "sim/base/error.h"
#include "sim/base/text.h"

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
        throw InputError("an image of " + counted(source.origin_m.size(), "line") + " and " +
                         counted(source.depth_m.size(), "depth") + " cannot be drawn; it needs 1 and 2");
    }
    for (std::size_t i = 0; i < source.origin_m.size(); ++i) {
        const Vec3& origin = source.origin_m[i];
        const double length = std::hypot(source.direction[i].x(), source.direction[i].z());
        lines_.push_back({origin.x(), origin.z(), source.direction[i].x() / length, source.direction[i].z() / length});
    }
    min_depth_m_ = source.depth_m.front();
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
    const double middle = min_depth_m_ + 0.5 * depth_step_m_ * last_depth_index_;
    reversed_ =
        lines_.front().side(last.origin_x + middle * last.direction_x, last.origin_z + middle * last.direction_z) < 0.0;
    if (reversed_) {
        std::ranges::reverse(lines_);
    }
    advances_.assign(lines_.size(), 0.0);
    for (std::size_t i = 0; i + 1 < lines_.size(); ++i) {
        apexes_m_.push_back(0.0);
        advances_[i + 1] = advances_[i] + advance_between(lines_[i], lines_[i + 1], apexes_m_.back()) / depth_step_m_;
    }
    // Rounding is not worth four interpolations along depth in place of one.
    level_ = single_ || std::ranges::all_of(advances_, [](double advance) { return std::abs(advance) < 1e-6; });
}

Extent ScanLines::extent() const {
    constexpr double infinite = std::numeric_limits<double>::infinity();
    Extent extent{infinite, -infinite, infinite, -infinite};
    for (const Line& line : lines_) {
        for (const double depth : {min_depth_m_, min_depth_m_ + depth_step_m_ * last_depth_index_}) {
            const double x = line.origin_x + depth * line.direction_x;
            const double z = line.origin_z + depth * line.direction_z;
            extent.min_x_m = std::min(extent.min_x_m, x);
            extent.max_x_m = std::max(extent.max_x_m, x);
            extent.min_z_m = std::min(extent.min_z_m, z);
            extent.max_z_m = std::max(extent.max_z_m, z);
        }
    }
    return extent;
}

FanEdge ScanLines::fan_edge() const {
    constexpr double min_spread_rad = 5.0 * std::numbers::pi / 180.0;
    const double deepest_m = min_depth_m_ + depth_step_m_ * last_depth_index_;
    FanEdge edge;
    for (const Line& line : lines_) {
        const double angle_rad = std::atan2(line.direction_x, line.direction_z);
        if (!edge.empty() && angle_rad <= edge.back().angle_rad) {
            return {};
        }
        edge.push_back(
            {angle_rad, line.origin_x + deepest_m * line.direction_x, line.origin_z + deepest_m * line.direction_z});
    }
    return edge.back().angle_rad - edge.front().angle_rad < min_spread_rad ? FanEdge{} : edge;
}

double ScanLines::advance_between(const Line& left, const Line& right, double& apex_m) {
    const double x = right.origin_x - left.origin_x;
    const double z = right.origin_z - left.origin_z;
    const double turn = left.direction_z * right.direction_x - left.direction_x * right.direction_z;
    if (std::abs(turn) < 1e-9) {
        apex_m = 0.0;
        return x * left.direction_x + z * left.direction_z;
    }
    // Each line's origin lies so far along it from the point where the two would cross.
    const double left_m = (right.direction_z * x - right.direction_x * z) / turn;
    const double right_m = (left.direction_z * x - left.direction_x * z) / turn;
    apex_m = 0.5 * (left_m + right_m);
    return right_m - left_m;
}

double ScanLines::depth_index(std::size_t left_line, double fraction, double x, double z) const {
    // Depth along the line that runs through the point, between its two neighbours.
    const Line& left = lines_[left_line];
    const Line& right = lines_[left_line + 1];
    const double direction_x = std::lerp(left.direction_x, right.direction_x, fraction);
    const double direction_z = std::lerp(left.direction_z, right.direction_z, fraction);
    const double length = std::hypot(direction_x, direction_z);
    const double origin_x = std::lerp(left.origin_x, right.origin_x, fraction);
    const double origin_z = std::lerp(left.origin_z, right.origin_z, fraction);
    // Origins of lines that fan lie on an arc about the point where they would cross, not on its chord.
    const double bulge = (1.0 - length) * apexes_m_[left_line];
    const double depth = ((x - origin_x) * direction_x + (z - origin_z) * direction_z) / length - bulge;
    return (depth - min_depth_m_) / depth_step_m_;
}

bool ScanLines::upright() const {
    return std::ranges::all_of(lines_, [&](const Line& line) {
        return line.direction_x == 0.0 && line.direction_z == 1.0 && line.origin_z == lines_.front().origin_z;
    });
}

double ScanLines::steepest_sine() const {
    double steepest = 0.0;
    for (const Line& line : lines_) {
        steepest = std::max(steepest, std::abs(line.direction_x));
    }
    return steepest;
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
    const double depth = depth_index(i, fraction, x, z);
    const double tolerance = rounding_m / depth_step_m_;
    if (depth < -tolerance || depth > last_depth_index_ + tolerance) {
        return std::nullopt;
    }
    const double line = static_cast<double>(i) + fraction;
    const double column = single_ ? 0.0 : reversed_ ? static_cast<double>(lines_.size() - 1) - line : line;
    return LinePlace{column, std::clamp(depth, 0.0, last_depth_index_),
                     level_ ? 0.0 : std::lerp(advances_[i], advances_[i + 1], fraction)};
}

double ScanLines::advance(std::size_t column) const {
    return advances_[reversed_ ? lines_.size() - 1 - column : column];
}

}  // namespace echoloom
