#include "recon/measure/grid_place.h"

#include <algorithm>
#include <cmath>

#include "recon/measure/profile.h"

namespace echoloom {
namespace {

std::size_t column_count(const Grid& grid) {
    if (const auto* lines = std::get_if<LineGrid>(&grid)) return lines->origin_m.size();
    return std::get<CartesianGrid>(grid).x_m.size();
}

/// Fractional index of a value in ascending samples; nothing outside them.
std::optional<double> index_in(const std::vector<double>& samples, double value) {
    if (samples.empty() || !(value >= samples.front()) || !(value <= samples.back())) return std::nullopt;
    if (samples.size() == 1) return 0.0;
    const auto above =
        std::clamp<std::ptrdiff_t>(std::upper_bound(samples.begin(), samples.end(), value) - samples.begin(), 1,
                                   static_cast<std::ptrdiff_t>(samples.size()) - 1);
    const double low = samples[static_cast<std::size_t>(above - 1)];
    const double high = samples[static_cast<std::size_t>(above)];
    return static_cast<double>(above - 1) + (value - low) / (high - low);
}

/// Signed lateral distance of a place from a column.
double offset_from(const Column& column, const Vec3& place) {
    return (place - column.origin_m).dot(column.lateral());
}

/// Lines of a wide fan, drawn on backwards, pass places too.
bool lies_ahead(const Column& column, const Vec3& place) {
    return (place - column.origin_m).dot(column.direction) > 0.0;
}

std::optional<double> line_index(const Grid& grid, const Vec3& place) {
    const std::size_t count = column_count(grid);
    double before = offset_from(column_at(grid, 0.0), place);
    if (count == 1) return std::abs(before) < 1e-9 ? std::optional(0.0) : std::nullopt;
    for (std::size_t n = 1; n < count; ++n) {
        const double after = offset_from(column_at(grid, static_cast<double>(n)), place);
        const bool crosses = before == 0.0 || (before < 0.0) != (after < 0.0) || after == 0.0;
        if (crosses && lies_ahead(column_at(grid, static_cast<double>(n)), place)) {
            return static_cast<double>(n - 1) + (before == after ? 0.0 : before / (before - after));
        }
        before = after;
    }
    return std::nullopt;
}

/// Where a cut meets a column.
struct Crossing {
    double position_m;
    double depth_index;
};

/// From column to column, starting at a place on `start`: a chord perpendicular to the bisector of two columns keeps
/// its distance from the point where they meet. Ends where the cut leaves the grid.
void walk_laterally(const Grid& grid, const Column& start, const Vec3& place, std::ptrdiff_t first, std::ptrdiff_t step,
                    std::vector<Crossing>& crossings) {
    const auto count = static_cast<std::ptrdiff_t>(column_count(grid));
    Column before = start;
    Vec3 from = place;
    double position = 0.0;
    for (std::ptrdiff_t n = first; n >= 0 && n < count; n += step) {
        const Column column = column_at(grid, static_cast<double>(n));
        const Vec3 bisector = before.direction + column.direction;
        const double depth = (from - column.origin_m).dot(bisector) / column.direction.dot(bisector);
        const auto index = index_in(depths_of(grid), depth);
        if (!index) return;
        const Vec3 to = column.origin_m + depth * column.direction;
        position += std::copysign((to - from).norm(), (to - from).dot(before.lateral() + column.lateral()));
        crossings.push_back({position, *index});
        before = column;
        from = to;
    }
}

}  // namespace

const std::vector<double>& depths_of(const Grid& grid) {
    return std::visit([](const auto& any) -> const std::vector<double>& { return any.depth_m; }, grid);
}

Column column_at(const Grid& grid, double column) {
    if (const auto* cartesian = std::get_if<CartesianGrid>(&grid)) {
        return {{value_at_index(cartesian->x_m, column), 0.0, 0.0}, Vec3::UnitZ()};
    }
    const auto& lines = std::get<LineGrid>(grid);
    const auto last = lines.origin_m.size() - 1;
    const double clamped = std::clamp(column, 0.0, static_cast<double>(last));
    const auto below = std::min(static_cast<std::size_t>(clamped), last);
    const auto above = std::min(below + 1, last);
    const double fraction = clamped - static_cast<double>(below);
    const Vec3 origin = lines.origin_m[below] + fraction * (lines.origin_m[above] - lines.origin_m[below]);
    const Vec3 direction = lines.direction[below] + fraction * (lines.direction[above] - lines.direction[below]);
    return {origin, direction.normalized()};
}

std::optional<double> column_of(const Grid& grid, const Vec3& place_m) {
    const auto* cartesian = std::get_if<CartesianGrid>(&grid);
    return cartesian ? index_in(cartesian->x_m, place_m.x()) : line_index(grid, {place_m.x(), 0.0, place_m.z()});
}

std::optional<GridIndex> index_of(const Grid& grid, const Vec3& place_m) {
    const Vec3 place(place_m.x(), 0.0, place_m.z());
    const auto column = column_of(grid, place);
    if (!column) return std::nullopt;
    const Column line = column_at(grid, *column);
    const auto depth = index_in(depths_of(grid), (place - line.origin_m).dot(line.direction));
    if (!depth) return std::nullopt;
    return GridIndex{*column, *depth};
}

LateralCut lateral_cut(const Grid& grid, const GridIndex& place) {
    const Column start = column_at(grid, place.column);
    const Vec3 through = start.origin_m + value_at_index(depths_of(grid), place.depth) * start.direction;
    const auto last = static_cast<std::ptrdiff_t>(column_count(grid)) - 1;
    const auto left = static_cast<std::ptrdiff_t>(std::clamp(std::floor(place.column), 0.0, static_cast<double>(last)));
    std::vector<Crossing> before, after;
    walk_laterally(grid, start, through, left, -1, before);
    walk_laterally(grid, start, through, left + 1, 1, after);
    std::ranges::reverse(before);
    LateralCut cut;
    cut.first_column = static_cast<std::size_t>(left + 1) - before.size();
    for (const auto* part : {&before, &after}) {
        for (const Crossing& crossing : *part) {
            cut.position_m.push_back(crossing.position_m);
            cut.depth_index.push_back(crossing.depth_index);
        }
    }
    return cut;
}

}  // namespace echoloom
