#include "recon/measure/point_width.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "recon/measure/grid_place.h"
#include "recon/measure/interpolate.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// Smallest half size of the search box in columns and depths.
constexpr double min_box_columns = 2.0;
constexpr double min_box_depths = 3.0;
/// The surroundings reach this many box sizes out.
constexpr double surroundings = 3.0;
/// Peak over the median of the surroundings: 3 times the rms of a Rayleigh envelope, rms/median = 1/sqrt(ln 2).
constexpr double min_prominence = 3.6;
/// The prominence of a point on an empty background.
constexpr double max_prominence_dB = 300.0;

SampleView view(const Image& image) {
    return {image.envelope, image.columns, image.depths};
}

/// Inclusive ranges of samples.
struct Box {
    std::size_t first_column, last_column, first_depth, last_depth;

    bool holds(std::size_t column, std::size_t depth) const {
        return column >= first_column && column <= last_column && depth >= first_depth && depth <= last_depth;
    }
};

std::pair<std::size_t, std::size_t> clipped(double center, double half, std::size_t count) {
    const auto last = static_cast<double>(count - 1);
    return {static_cast<std::size_t>(std::clamp(std::ceil(center - half), 0.0, last)),
            static_cast<std::size_t>(std::clamp(std::floor(center + half), 0.0, last))};
}

Box box_around(const Image& image, const GridIndex& center, double half_columns, double half_depths) {
    const auto [first_column, last_column] = clipped(center.column, half_columns, image.columns);
    const auto [first_depth, last_depth] = clipped(center.depth, half_depths, image.depths);
    return {first_column, last_column, first_depth, last_depth};
}

/// The sample of the highest envelope in a box.
std::pair<std::size_t, std::size_t> brightest(const SampleView& field, const Box& box) {
    std::pair<std::size_t, std::size_t> best{box.first_column, box.first_depth};
    for (std::size_t c = box.first_column; c <= box.last_column; ++c) {
        for (std::size_t d = box.first_depth; d <= box.last_depth; ++d) {
            if (field.at(c, d) > field.at(best.first, best.second)) best = {c, d};
        }
    }
    return best;
}

double median_outside(const SampleView& field, const Box& outer, const Box& inner) {
    std::vector<float> values;
    for (std::size_t c = outer.first_column; c <= outer.last_column; ++c) {
        for (std::size_t d = outer.first_depth; d <= outer.last_depth; ++d) {
            if (!inner.holds(c, d)) values.push_back(static_cast<float>(field.at(c, d)));
        }
    }
    if (values.empty()) return 0.0;
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// Whether any of the eight neighbours of a sample is brighter: the echo then peaks outside the box.
bool keeps_rising(const SampleView& field, std::size_t column, std::size_t depth) {
    for (std::size_t c = column > 0 ? column - 1 : 0; c <= std::min(column + 1, field.columns - 1); ++c) {
        for (std::size_t d = depth > 0 ? depth - 1 : 0; d <= std::min(depth + 1, field.depths - 1); ++d) {
            if (field.at(c, d) > field.at(column, depth)) return true;
        }
    }
    return false;
}

/// Everything about the grid around a point that the search needs.
struct Surroundings {
    Column column;         ///< through the point
    GridIndex center;      ///< where the point should appear
    double column_step_m;  ///< lateral, at the point
    double depth_step_m;
    double speed_ratio;  ///< assumed over true: factor on axial distances
    double shift_m;      ///< axial, of the point, from that
};

/// Where a place appears in the image: along its column, moved by the ratio of assumed to true sound speed.
std::optional<GridIndex> appearance(const Image& image, const Vec3& place, double speed_ratio) {
    const Vec3 in_plane(place.x(), 0.0, place.z());
    if (speed_ratio == 1.0) return index_of(image.grid, in_plane);
    // Along the column through the point; for steered lines the column hardly changes over the shift.
    const auto exact = column_of(image.grid, in_plane);
    const Column column = column_at(image.grid, exact.value_or(static_cast<double>(image.columns) / 2.0));
    const double range = (in_plane - column.origin_m).dot(column.direction);
    return index_of(image.grid, in_plane + (speed_ratio - 1.0) * range * column.direction);
}

std::optional<Surroundings> look_around(const Image& image, const PointSearch& search) {
    const Vec3& place = search.true_m;
    const double true_speed = image.recording.medium.sound_speed_m_s;
    const double ratio = image.sound_speed_m_s > 0.0 && true_speed > 0.0 ? image.sound_speed_m_s / true_speed : 1.0;
    auto center = appearance(image, place, ratio);
    if (!center) return std::nullopt;
    const auto& depths = depths_of(image.grid);
    const auto columns = lateral_cut(image.grid, *center).position_m;
    const double column_step =
        columns.size() > 1 ? (columns.back() - columns.front()) / static_cast<double>(columns.size() - 1) : 0.0;
    const double depth_step =
        image.depths > 1 ? (depths.back() - depths.front()) / static_cast<double>(image.depths - 1) : 0.0;
    const Column column = column_at(image.grid, center->column);
    if (column_step != 0.0) center->column += search.predicted_lateral_m / column_step;
    const double range = (Vec3(place.x(), 0.0, place.z()) - column.origin_m).dot(column.direction);
    return Surroundings{column, *center, std::abs(column_step), depth_step, ratio, (ratio - 1.0) * range};
}

/// Lateral and axial offset of a neighbour from the point, in metres.
std::pair<double, double> offsets(const Surroundings& here, const Vec3& from, const Vec3& to) {
    const Vec3 apart(to.x() - from.x(), 0.0, to.z() - from.z());
    return {apart.dot(here.column.lateral()), apart.dot(here.column.direction) * here.speed_ratio};
}

Box search_box(const Image& image, const PointSearch& search, const Surroundings& here) {
    double half_lateral = std::max(search_cells * search.lateral_resolution_m, min_box_columns * here.column_step_m);
    double half_axial = std::max(search_cells * search.axial_resolution_m, min_box_depths * here.depth_step_m);
    for (const Vec3& neighbour : search.neighbours_m) {
        const auto [lateral, axial] = offsets(here, search.true_m, neighbour);
        const double far_lateral = std::abs(lateral) / half_lateral;
        const double far_axial = std::abs(axial) / half_axial;
        if (far_lateral >= 2.0 || far_axial >= 2.0 || (lateral == 0.0 && axial == 0.0)) continue;
        if (far_lateral >= far_axial) {
            half_lateral = std::min(half_lateral, 0.5 * std::abs(lateral));
        } else {
            half_axial = std::min(half_axial, 0.5 * std::abs(axial));
        }
    }
    const double half_columns = here.column_step_m > 0.0 ? half_lateral / here.column_step_m : 0.0;
    const double half_depths = here.depth_step_m > 0.0 ? half_axial / here.depth_step_m : 0.0;
    return box_around(image, here.center, half_columns, half_depths);
}

/// The part of the lateral or axial profile that belongs to the point: as far as asked, and half way to neighbours on
/// the profile.
Reach reach_of(const PointSearch& search, const Surroundings& here, bool lateral) {
    const double center = lateral ? search.predicted_lateral_m : here.shift_m;
    const double half = lateral ? search.lateral_reach_m : search.axial_reach_m;
    Reach reach;
    reach.from_m = center - half;
    reach.to_m = center + half;
    for (const Vec3& neighbour : search.neighbours_m) {
        const auto [lateral_offset, axial_offset] = offsets(here, search.true_m, neighbour);
        const double on_profile = lateral ? lateral_offset : axial_offset;
        const double off_profile = lateral ? axial_offset : lateral_offset;
        const double cell = lateral ? search.axial_resolution_m : search.lateral_resolution_m;
        if (std::abs(off_profile) > 2.0 * cell || on_profile == 0.0) continue;
        const double middle = center + 0.5 * on_profile;
        const std::string reason = "not separated from the point at x " + plain(1e3 * neighbour.x()) + " mm, depth " +
                                   plain(1e3 * neighbour.z()) + " mm";
        if (on_profile < 0.0 && middle > reach.from_m) {
            reach.from_m = middle;
            reach.before_from = reason;
        } else if (on_profile > 0.0 && middle < reach.to_m) {
            reach.to_m = middle;
            reach.beyond_to = reason;
        }
    }
    return reach;
}

std::vector<double> values_on(const Image& image, const LateralCut& cut) {
    std::vector<double> row(cut.depth_index.size());
    for (std::size_t n = 0; n < row.size(); ++n) {
        const auto start = (cut.first_column + n) * image.depths;
        const SampleView one{std::span(image.envelope).subspan(start, image.depths), 1, image.depths};
        row[n] = interpolate(one, 0.0, cut.depth_index[n]);
    }
    return row;
}

std::vector<double> column_line(const Image& image, double column) {
    std::vector<double> line(image.depths);
    for (std::size_t d = 0; d < image.depths; ++d) line[d] = interpolate(view(image), column, static_cast<double>(d));
    return line;
}

}  // namespace

Profile lateral_profile(const Image& image, const PointMeasurement& point, int upsampling) {
    LateralCut cut = lateral_cut(image.grid, {point.column, point.depth_index});
    Profile profile{std::move(cut.position_m), values_on(image, cut)};
    for (double& position : profile.position_m) position += point.lateral_error_m;
    return upsampled(std::move(profile), upsampling);
}

Profile axial_profile(const Image& image, const PointMeasurement& point, int upsampling) {
    Profile profile{depths_of(image.grid), column_line(image, point.column)};
    const double peak = value_at_index(profile.position_m, point.depth_index);
    for (double& position : profile.position_m) position += point.axial_error_m - peak;
    return upsampled(std::move(profile), upsampling);
}

PointMeasurement measure_point(const Image& image, const PointSearch& search) {
    PointMeasurement point;
    point.true_m = search.true_m;
    const auto here = look_around(image, search);
    if (!here) {
        point.reason = "outside the image";
        return point;
    }
    const SampleView field = view(image);
    const Box box = search_box(image, search, *here);
    const auto [column, depth] = brightest(field, box);
    if (!(field.at(column, depth) > 0.0)) {
        point.reason = "no echo in the search box";
        return point;
    }
    const bool on_side = image.columns > 1 && (column == 0 || column == image.columns - 1);
    const bool on_end = image.depths > 1 && (depth == 0 || depth == image.depths - 1);
    if (on_side || on_end) {
        point.reason = "the echo peaks on the image's edge";
        return point;
    }
    if (keeps_rising(field, column, depth)) {
        point.reason = "no peak in the search box: the echo keeps rising beyond it";
        return point;
    }
    const double half_columns = 0.5 * static_cast<double>(box.last_column - box.first_column + 1);
    const double half_depths = 0.5 * static_cast<double>(box.last_depth - box.first_depth + 1);
    const Box outer = box_around(image, here->center, surroundings * half_columns, surroundings * half_depths);
    const double around = median_outside(field, outer, box);
    if (field.at(column, depth) < min_prominence * around) {
        point.reason = "too weak against its surroundings";
        return point;
    }

    const FieldPeak peak = refine_peak(field, column, depth);
    point.found = true;
    point.prominence_dB = around > 0.0 ? 20.0 * std::log10(peak.value / around) : max_prominence_dB;
    point.column = peak.column;
    point.depth_index = peak.depth;
    point.peak_amplitude = peak.value;
    const Column through = column_at(image.grid, peak.column);
    point.peak_m = through.origin_m + value_at_index(depths_of(image.grid), peak.depth) * through.direction;
    const Vec3 error(point.peak_m.x() - search.true_m.x(), 0.0, point.peak_m.z() - search.true_m.z());
    point.lateral_error_m = error.dot(through.lateral());
    point.axial_error_m = error.dot(through.direction);

    const Profile lateral = lateral_profile(image, point);
    if (lateral.position_m.empty()) {
        point.found = false;
        point.reason = "the echo peaks on the image's edge";
        return point;
    }
    const auto first = static_cast<double>(lateral_cut(image.grid, {peak.column, peak.depth}).first_column);
    const Profile axial = axial_profile(image, point);
    const Reach lateral_range = reach_of(search, *here, true);
    const Reach axial_range = reach_of(search, *here, false);
    point.lateral_peak_index = peak.column - first;
    const auto [first_m, last_m] = std::minmax(lateral.position_m.front(), lateral.position_m.back());
    point.reach_from_m = std::max(lateral_range.from_m, first_m);
    point.reach_to_m = std::min(lateral_range.to_m, last_m);
    point.lateral_6dB = width_at_level(lateral, peak.column - first, 0.5, lateral_range);
    point.lateral_20dB = width_at_level(lateral, peak.column - first, 0.1, lateral_range);
    point.axial_6dB = width_at_level(axial, peak.depth, 0.5, axial_range);
    point.axial_20dB = width_at_level(axial, peak.depth, 0.1, axial_range);
    return point;
}

}  // namespace echoloom
