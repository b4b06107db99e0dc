#include "recon/beamform/grid_axes.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "recon/beamform/aperture.h"
#include "recon/beamform/receive_focus.h"
#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// More than this many image points is a slip of the pen; 2^27 of them take 1 GiB of complex floats.
constexpr double max_points = 134217728.0;

double last_sample_s(const RecordingInfo& info, const TransmitEvent& event) {
    return event.start_time_s + static_cast<double>(info.samples - 1) / info.sampling_rate_Hz;
}

/// Depths on the axis of an event from which its first and last samples came.
struct AxisRange {
    double first_m = 0.0;
    double last_m = no_limit;
};

AxisRange axis_range(const RecordingInfo& info, double sound_speed_m_s) {
    AxisRange range;
    for (const TransmitEvent& event : info.events) {
        range.first_m = std::max(range.first_m, 0.5 * sound_speed_m_s * event.start_time_s);
        range.last_m = std::min(range.last_m, 0.5 * sound_speed_m_s * last_sample_s(info, event));
    }
    return range;
}

/// Deepest depth for which `covered` holds, within `most`: coverage ends once as depth grows.
template <class Covered>
double deepest(double most, Covered covered) {
    if (covered(most)) {
        return most;
    }
    double low = 0.0;
    double high = most;
    for (int halving = 0; halving < 50; ++halving) {
        const double middle = 0.5 * (low + high);
        (covered(middle) ? low : high) = middle;
    }
    return low;
}

/// The last echo of the aperture at a depth along a line or column, as a path from time zero.
class Coverage {
  public:
    Coverage(const Recipe& recipe, const RecordingInfo& info)
        : info_(info), places_(info.probe), aperture_(recipe, info), focus_(recipe) {}

    double longest_receive_path_m(const std::vector<int>& receivers, const LineStart& start, double depth) const {
        const double width = aperture_.width_m(depth);
        double longest = 0.0;
        for (const int receiver : receivers) {
            const auto element = static_cast<std::size_t>(receiver);
            if (takes_part(element, start, width)) {
                longest =
                    std::max(longest, focus_.path_m(start.origin_m, start.direction, depth, places_.center_m[element]));
            }
        }
        return longest;
    }

  private:
    bool takes_part(std::size_t element, const LineStart& start, double width) const {
        const Element& it = info_.probe.elements[element];
        if (it.is_ring()) {
            return it.inner_m < 0.5 * width;
        }
        return std::abs(places_.lateral_m[element] - start.lateral_m) < 0.5 * (width + mean_pitch_m(info_.probe));
    }

    const RecordingInfo& info_;
    ElementPlaces places_;
    Aperture aperture_;
    ReceiveFocus focus_;
};

void check_points(const Recipe& recipe, std::string_view key, double columns, double depths) {
    if (columns * depths > max_points) {
        throw InputError(place_of(recipe, key), "asks for an image of " + plain(columns) + " x " + plain(depths) +
                                                    " points; at most " + plain(max_points) +
                                                    " are formed: take a coarser step or a smaller range");
    }
}

std::vector<double> steps(double least, double most, double step) {
    const auto count = static_cast<std::size_t>(std::floor((most - least) / step + 1e-6)) + 1;
    std::vector<double> values(count);
    for (std::size_t i = 0; i < count; ++i) {
        values[i] = least + static_cast<double>(i) * step;
    }
    return values;
}

struct DepthRange {
    double min_m, max_m;
};

/// The range asked for, else the range recorded; refused where nothing was recorded.
DepthRange depth_range(const Recipe& recipe, const AxisRange& axis, double deepest_covered_m) {
    const DepthRange range{recipe.min_depth_m.value_or(std::max(0.0, axis.first_m)),
                           recipe.max_depth_m.value_or(deepest_covered_m)};
    if (range.max_m > axis.last_m * (1.0 + 1e-9)) {
        throw InputError(place_of(recipe, "grid.depth_mm"), "the recording ends at " + plain(axis.last_m * 1e3) +
                                                                " mm; ask for that or less, or leave the key out");
    }
    if (range.min_m >= range.max_m) {
        const char* const key = recipe.max_depth_m ? "grid.depth_mm" : "grid.min_depth_mm";
        throw InputError(place_of(recipe, key), "leaves no depth to form: the recording covers " +
                                                    plain(axis.first_m * 1e3) + " to " +
                                                    plain(deepest_covered_m * 1e3) + " mm with its whole aperture");
    }
    return range;
}

/// How the columns of an image of pixels lie: straight down from z = 0, along the radii of a curved array, or from the
/// middle of a flat face.
enum class Columns { parallel, radii, sector };

Columns columns_of(const Recipe& recipe, const Probe& probe) {
    if (probe.radius_m > 0.0) {
        return Columns::radii;
    }
    const bool across = recipe.min_x_m || recipe.x_step_m;
    const bool sector = recipe.sector_half_angle_rad || (probe.kind == "phased" && !across);
    return sector ? Columns::sector : Columns::parallel;
}

/// Ends of the face along it, with half a pitch beyond the outermost centres.
struct FaceEnds {
    double min_m, max_m;
};

FaceEnds face_ends(const Probe& probe) {
    const double half_pitch = 0.5 * mean_pitch_m(probe);
    const auto along = [&](const Element& element) { return face_lateral_m(probe, element.center_m); };
    const auto [left, right] = std::ranges::minmax_element(probe.elements, {}, along);
    return {along(*left) - half_pitch, along(*right) + half_pitch};
}

/// Where columns lie, as values of x or of the angle.
struct ColumnRange {
    double least, most, step;
};

ColumnRange column_range(const Recipe& recipe, const RecordingInfo& info, Columns columns, double wavelength_m) {
    constexpr double usual_half_angle_rad = 0.25 * std::numbers::pi;
    const FaceEnds ends = face_ends(info.probe);
    switch (columns) {
        case Columns::parallel:
            break;
        case Columns::radii: {
            const double radius = info.probe.radius_m;
            const auto half = recipe.sector_half_angle_rad;
            return {half ? -*half : ends.min_m / radius, half ? *half : ends.max_m / radius,
                    recipe.angle_step_rad.value_or(0.25 * wavelength_m / radius)};
        }
        case Columns::sector: {
            // A two-way beam of the whole face calls for lambda / (2 face); its envelope for half of that.
            const double step = recipe.angle_step_rad.value_or(0.25 * wavelength_m / (ends.max_m - ends.min_m));
            const double half = recipe.sector_half_angle_rad.value_or(usual_half_angle_rad);
            const double whole_steps = std::floor(half / step + 1e-6) * step;  // one column straight down
            return {-whole_steps, whole_steps, step};
        }
    }
    return {recipe.min_x_m.value_or(ends.min_m), recipe.max_x_m.value_or(ends.max_m),
            recipe.x_step_m.value_or(0.25 * wavelength_m)};
}

LineStart column_start(const Probe& probe, Columns columns, double value) {
    switch (columns) {
        case Columns::parallel:
            break;
        case Columns::radii: {
            const FacePlace place = face_place(probe, value * probe.radius_m);
            return {place.origin_m, place.normal, value * probe.radius_m};
        }
        case Columns::sector: {
            const FaceEnds ends = face_ends(probe);
            const double middle = 0.5 * (ends.min_m + ends.max_m);
            return {Vec3(middle, 0.0, 0.0), direction_at(value), middle};
        }
    }
    return {Vec3(value, 0.0, 0.0), Vec3::UnitZ(), value};
}

Grid pixel_grid(const Recipe& recipe, const RecordingInfo& info) {
    const double c = assumed_sound_speed(recipe, info);
    const double wavelength = info.probe.wavelength_m(c);
    const Columns columns = columns_of(recipe, info.probe);
    const auto [left, right, column_step] = column_range(recipe, info, columns, wavelength);
    const double depth_step = recipe.depth_step_m.value_or(0.25 * wavelength);

    const AxisRange axis = axis_range(info, c);
    const Coverage coverage(recipe, info);
    std::vector<TransmitPath> transmit;
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        transmit.emplace_back(info, event, c);
    }
    // The outermost columns and the middle one receive the latest echoes.
    const std::array starts{column_start(info.probe, columns, left),
                            column_start(info.probe, columns, 0.5 * (left + right)),
                            column_start(info.probe, columns, right)};
    const double covered = deepest(axis.last_m, [&](double depth) {
        return std::ranges::all_of(starts, [&](const LineStart& start) {
            const Vec3 point = start.origin_m + depth * start.direction;
            for (std::size_t event = 0; event < info.events.size(); ++event) {
                const TransmitEvent& transmitted = info.events[event];
                const double path =
                    transmit[event](point) + coverage.longest_receive_path_m(transmitted.receivers, start, depth);
                if (path > c * last_sample_s(info, transmitted)) {
                    return false;
                }
            }
            return true;
        });
    });
    const auto [least, most] = depth_range(recipe, axis, covered);
    check_points(recipe, columns == Columns::parallel ? "grid.x_step_mm" : "grid.angle_step_deg",
                 (right - left) / column_step + 1.0, (most - least) / depth_step + 1.0);
    const std::vector<double> values = steps(left, right, column_step);
    std::vector<double> depths = steps(least, most, depth_step);
    if (columns == Columns::parallel) {
        return CartesianGrid{values, std::move(depths)};
    }
    LineGrid grid;
    grid.depth_m = std::move(depths);
    for (const double value : values) {
        const LineStart start = column_start(info.probe, columns, value);
        grid.origin_m.push_back(start.origin_m);
        grid.direction.push_back(start.direction);
    }
    return grid;
}

}  // namespace

LineGrid line_grid(const Recipe& recipe, const RecordingInfo& info) {
    const double c = assumed_sound_speed(recipe, info);
    LineGrid grid;
    for (const LineEvents& line : events_by_line(info)) {
        const TransmitEvent& first = info.events[line.events.front()];
        grid.origin_m.push_back(first.origin_m);
        grid.direction.push_back(first.direction);
    }
    const AxisRange axis = axis_range(info, c);
    const Coverage coverage(recipe, info);
    const double covered = deepest(axis.last_m, [&](double depth) {
        return std::ranges::all_of(info.events, [&](const TransmitEvent& event) {
            const LineStart start = line_start(info, event);
            const double path = depth + coverage.longest_receive_path_m(event.receivers, start, depth);
            return path <= c * last_sample_s(info, event);
        });
    });
    const auto [least, most] = depth_range(recipe, axis, covered);
    const double step = recipe.depth_step_m.value_or(0.5 * c / info.sampling_rate_Hz);
    // Along a line the RF turns twice per wavelength; its upper edge must stay below half the rate of the steps.
    const double highest_Hz = info.probe.center_Hz * (1.0 + info.probe.bandwidth_fraction);
    const double coarsest = 0.25 * c / highest_Hz;
    if (step > coarsest && recipe.depth_step_m && recipe.transmit_focus == TransmitFocus::as_transmitted) {
        throw InputError(place_of(recipe, "grid.depth_step_mm"),
                         plain(step * 1e3) + " mm is too coarse to hold echoes up to " + plain(highest_Hz * 1e-6) +
                             " MHz along a line; take at most " + plain(coarsest * 1e3) + " mm");
    }
    check_points(recipe, "grid.depth_step_mm", static_cast<double>(grid.origin_m.size()), (most - least) / step + 1.0);
    grid.depth_m = steps(least, most, step);
    return grid;
}

Grid image_grid(const Recipe& recipe, const RecordingInfo& info, ScanKind kind) {
    if (kind == ScanKind::lines || kind == ScanKind::retrospective) {
        return line_grid(recipe, info);
    }
    return pixel_grid(recipe, info);
}

PixelColumns pixel_columns(const Grid& grid, const Probe& probe) {
    PixelColumns columns;
    if (const auto* cartesian = std::get_if<CartesianGrid>(&grid)) {
        columns.depth_m = cartesian->depth_m;
        for (const double x : cartesian->x_m) {
            columns.starts.push_back(column_start(probe, Columns::parallel, x));
        }
        return columns;
    }
    const auto& lines = std::get<LineGrid>(grid);
    columns.depth_m = lines.depth_m;
    for (std::size_t line = 0; line < lines.origin_m.size(); ++line) {
        columns.starts.push_back(
            {lines.origin_m[line], lines.direction[line], face_lateral_m(probe, lines.origin_m[line])});
    }
    return columns;
}

std::size_t column_count(const Grid& grid) {
    const auto* lines = std::get_if<LineGrid>(&grid);
    return lines != nullptr ? lines->origin_m.size() : std::get<CartesianGrid>(grid).x_m.size();
}

std::size_t depth_count(const Grid& grid) {
    return std::visit([](const auto& some) { return some.depth_m.size(); }, grid);
}

}  // namespace echoloom
