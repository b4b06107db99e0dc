#include "sim/engine/cells.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

namespace echoloom {

CellGrid::CellGrid(const Box& bounds, double cell_size_m)
    : size_m_(cell_size_m),
      top_m_(std::floor(bounds.least.z() / cell_size_m) * cell_size_m),
      left_m_(std::floor(bounds.least.x() / cell_size_m) * cell_size_m),
      layers_(static_cast<std::int64_t>(std::floor((bounds.most.z() - top_m_) / cell_size_m)) + 1),
      columns_(static_cast<std::int64_t>(std::floor((bounds.most.x() - left_m_) / cell_size_m)) + 1) {}

CellGrid::Index CellGrid::index(const Scatterer& s) const {
    Index out;
    out.layer = static_cast<std::int64_t>(std::floor((s.z_m - top_m_) / size_m_));
    out.column = static_cast<std::int64_t>(std::floor((s.x_m - left_m_) / size_m_));
    const double middle = layer_top_m(out.layer) + size_m_ / 2.0;
    out.band = static_cast<std::int64_t>(std::floor(s.y_m * s.y_m / (2.0 * middle * band_path_m())));
    return out;
}

Box CellGrid::around(std::size_t first_stack, std::size_t last_stack) const {
    constexpr double far = std::numeric_limits<double>::infinity();
    const std::int64_t first_layer = static_cast<std::int64_t>(first_stack) / columns_;
    const std::int64_t last_layer = static_cast<std::int64_t>(last_stack) / columns_;
    // A cell more on every side: rounding may put an edge on either.
    Box box{Vec3(-far, -far, layer_top_m(first_layer - 1)), Vec3(far, far, layer_top_m(last_layer + 2))};
    if (first_layer == last_layer) {
        const auto column = [&](std::size_t stack) {
            return static_cast<double>(static_cast<std::int64_t>(stack) % columns_);
        };
        box.least.x() = left_m_ + (column(first_stack) - 1.0) * size_m_;
        box.most.x() = left_m_ + (column(last_stack) + 2.0) * size_m_;
    }
    return box;
}

CellBlock collect_cells(const Phantom& phantom, const CellGrid& grid, std::size_t first_stack, std::size_t last_stack,
                        std::size_t at_most) {
    const Box window = grid.around(first_stack, last_stack);
    std::vector<Scatterer> found;
    std::vector<CellGrid::Index> index;
    found.reserve(at_most);
    index.reserve(at_most);
    for_each_scatterer(phantom, window, [&](std::span<const Scatterer> some) {
        for (const Scatterer& scatterer : some) {
            const auto at = grid.index(scatterer);
            if (grid.stack(at) >= first_stack && grid.stack(at) <= last_stack) {
                found.push_back(scatterer);
                index.push_back(at);
            }
        }
    });
    std::vector<std::uint32_t> order(found.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(), [&](std::uint32_t a, std::uint32_t b) { return index[a] < index[b]; });
    CellBlock block;
    block.scatterers.reserve(found.size());
    for (std::uint32_t i : order) {
        if (block.cells.empty() || block.cells.back().index != index[i]) {
            block.cells.push_back({index[i], block.scatterers.size(), 0});
        }
        ++block.cells.back().count;
        block.scatterers.push_back(found[i]);
    }
    return block;
}

Box upper_box(std::span<const Scatterer> scatterers) {
    constexpr double large = std::numeric_limits<double>::infinity();
    Box box{Vec3::Constant(large), Vec3::Constant(-large)};
    for (const Scatterer& s : scatterers) {
        const Vec3 at(s.x_m, std::abs(s.y_m), s.z_m);
        box.least = box.least.cwiseMin(at);
        box.most = box.most.cwiseMax(at);
    }
    return box;
}

namespace {

struct Interval {
    double least;
    double most;
    double nearest_to_zero() const { return least > 0.0 ? least : (most < 0.0 ? -most : 0.0); }
    double farthest_from_zero() const { return std::max(std::abs(least), std::abs(most)); }
};

/// The extent of a box along `axis`, seen from `origin`.
Interval extent_along(const Box& box, const Vec3& origin, const Vec3& axis) {
    const Vec3 middle = (box.least + box.most) / 2.0 - origin;
    const Vec3 half = (box.most - box.least) / 2.0;
    const double reach = half.dot(axis.cwiseAbs());
    return {middle.dot(axis) - reach, middle.dot(axis) + reach};
}

}  // namespace

PathBounds path_bounds(const ElementArrays& elements, std::size_t e, const Box& upper_box, double sound_speed_m_s) {
    const Vec3 origin(elements.center_x[e], elements.center_y[e], elements.center_z[e]);
    const Vec3 lateral(elements.lateral_x[e], elements.lateral_y[e], elements.lateral_z[e]);
    const Vec3 elevation(elements.elevation_x[e], elements.elevation_y[e], elements.elevation_z[e]);
    const Vec3 normal(elements.normal_x[e], elements.normal_y[e], elements.normal_z[e]);
    Box lower_box = upper_box;
    lower_box.least.y() = -upper_box.most.y();
    lower_box.most.y() = -upper_box.least.y();

    constexpr int heights = 8;
    constexpr double large = std::numeric_limits<double>::infinity();
    PathBounds bounds{large, -large, large, -large};
    for (const Box& box : {upper_box, lower_box}) {
        Interval x = extent_along(box, origin, lateral);
        x.least -= elements.half_width[e];
        x.most += elements.half_width[e];
        const Interval y = extent_along(box, origin, elevation);
        const Interval z = extent_along(box, origin, normal);
        const double near_xz = std::hypot(x.nearest_to_zero(), z.nearest_to_zero());
        const double far_xz = std::hypot(x.farthest_from_zero(), z.farthest_from_zero());
        for (int i = -heights; i <= heights; ++i) {
            const double height = elements.half_height[e] * i / heights;
            const Interval away{y.least - height, y.most - height};
            const double near = std::hypot(near_xz, away.nearest_to_zero());
            const double far = std::hypot(far_xz, away.farthest_from_zero());
            const double lens = lens_delay_s(elements.elevation_focus_m, height, sound_speed_m_s);
            bounds.least_m = std::min(bounds.least_m, near);
            bounds.most_m = std::max(bounds.most_m, far);
            bounds.least_s = std::min(bounds.least_s, near / sound_speed_m_s + lens);
            bounds.most_s = std::max(bounds.most_s, far / sound_speed_m_s + lens);
        }
    }
    return bounds;
}

}  // namespace echoloom
