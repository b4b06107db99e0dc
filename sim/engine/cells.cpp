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
    double least = std::numeric_limits<double>::infinity();
    double most = -std::numeric_limits<double>::infinity();

    void take(double low, double high) {
        least = std::min(least, low);
        most = std::max(most, high);
    }
};

/// A cell seen from an element: squares of distances in the element's plane, from the nearer and the farther edge, and
/// heights along elevation, whichever side they are on.
struct SeenCell {
    Interval in_plane_square;
    Interval height;
};

SeenCell seen_from(const ElementArrays& elements, std::size_t e, std::span<const Scatterer> cell) {
    const Vec3 origin(elements.center_x[e], elements.center_y[e], elements.center_z[e]);
    const Vec3 lateral(elements.lateral_x[e], elements.lateral_y[e], elements.lateral_z[e]);
    const Vec3 elevation(elements.elevation_x[e], elements.elevation_y[e], elements.elevation_z[e]);
    const Vec3 normal(elements.normal_x[e], elements.normal_y[e], elements.normal_z[e]);
    const double half = elements.half_width[e];
    SeenCell out;
    for (const Scatterer& s : cell) {
        const Vec3 offset = Vec3(s.x_m, s.y_m, s.z_m) - origin;
        const double x = std::abs(offset.dot(lateral));
        const double y = std::abs(offset.dot(elevation));
        const double z = offset.dot(normal);
        const double near = std::max(x - half, 0.0);
        out.in_plane_square.take(near * near + z * z, (x + half) * (x + half) + z * z);
        out.height.take(y, y);
    }
    return out;
}

}  // namespace

PathBounds path_bounds(const ElementArrays& elements, std::size_t e, std::span<const Scatterer> cell,
                       double sound_speed_m_s) {
    const SeenCell seen = seen_from(elements, e, cell);
    constexpr int heights = 8;
    Interval path;
    Interval time;
    for (int i = -heights; i <= heights; ++i) {
        const double height = elements.half_height[e] * i / heights;
        const double beside = std::max({seen.height.least - height, height - seen.height.most, 0.0});
        const double away = std::max(std::abs(seen.height.least - height), std::abs(seen.height.most - height));
        const double near = std::sqrt(seen.in_plane_square.least + beside * beside);
        const double far = std::sqrt(seen.in_plane_square.most + away * away);
        const double lens = lens_delay_s(elements.elevation_focus_m, height, sound_speed_m_s);
        path.take(near, far);
        time.take(near / sound_speed_m_s + lens, far / sound_speed_m_s + lens);
    }
    return {time.least, time.most, path.least, path.most};
}

}  // namespace echoloom
