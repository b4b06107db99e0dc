#include "recon/beamform/grid_axes.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "recon/beamform/aperture.h"
#include "recon/beamform/receive_focus.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

/// More than this many image points is a slip of the pen; 2^27 of them take 1 GiB of complex floats.
constexpr double most_points = 134217728.0;

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

/// The last echo of the aperture at a depth below an origin, as a path from time zero.
class Coverage {
  public:
    Coverage(const Recipe& recipe, const RecordingInfo& info) : info_(info), aperture_(recipe, info), focus_(recipe) {}

    double longest_receive_path_m(const TransmitEvent& event, const Vec3& origin, const Vec3& direction,
                                  double depth) const {
        const double reach = 0.5 * (aperture_.width_m(depth) + mean_pitch_m(info_.probe));
        double longest = 0.0;
        for (const int element : event.listeners) {
            const Vec3& center = info_.probe.elements[static_cast<std::size_t>(element)].center_m;
            if (std::abs(center.x() - origin.x()) < reach) {
                longest = std::max(longest, focus_.path_m(origin, direction, depth, center));
            }
        }
        return longest;
    }

  private:
    const RecordingInfo& info_;
    Aperture aperture_;
    ReceiveFocus focus_;
};

void check_points(const Recipe& recipe, std::string_view key, double columns, double depths) {
    if (columns * depths > most_points) {
        throw InputError(place_of(recipe, key), "asks for an image of " + plain(columns) + " x " + plain(depths) +
                                                    " points; at most " + plain(most_points) +
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
    double least_m, most_m;
};

/// The range asked for, else the range recorded; refused where nothing was recorded.
DepthRange depth_range(const Recipe& recipe, const AxisRange& axis, double deepest_covered_m) {
    const DepthRange range{recipe.least_depth_m.value_or(std::max(0.0, axis.first_m)),
                           recipe.most_depth_m.value_or(deepest_covered_m)};
    if (range.most_m > axis.last_m * (1.0 + 1e-9)) {
        throw InputError(place_of(recipe, "grid.depth_mm"), "the recording ends at " + plain(axis.last_m * 1e3) +
                                                                " mm; ask for that or less, or leave the key out");
    }
    if (range.least_m >= range.most_m) {
        const char* const key = recipe.most_depth_m ? "grid.depth_mm" : "grid.least_depth_mm";
        throw InputError(place_of(recipe, key), "leaves no depth to form: the recording covers " +
                                                    plain(axis.first_m * 1e3) + " to " +
                                                    plain(deepest_covered_m * 1e3) + " mm with its whole aperture");
    }
    return range;
}

}  // namespace

LineGrid line_grid(const Recipe& recipe, const RecordingInfo& info) {
    const double c = assumed_sound_speed(recipe, info);
    LineGrid grid;
    std::vector<const TransmitEvent*> first_events;
    for (const LineEvents& line : events_by_line(info)) {
        first_events.push_back(&info.events[line.events.front()]);
        grid.origin_m.push_back(first_events.back()->origin_m);
        grid.direction.push_back(first_events.back()->direction);
    }
    const AxisRange axis = axis_range(info, c);
    const Coverage coverage(recipe, info);
    const double covered = deepest(axis.last_m, [&](double depth) {
        return std::ranges::all_of(first_events, [&](const TransmitEvent* event) {
            const double path =
                depth + coverage.longest_receive_path_m(*event, event->origin_m, event->direction, depth);
            return path <= c * last_sample_s(info, *event);
        });
    });
    const auto [least, most] = depth_range(recipe, axis, covered);
    const double step = recipe.depth_step_m.value_or(0.5 * c / info.sampling_rate_Hz);
    // Along a line the RF turns twice per wavelength; its upper edge must stay below half the rate of the steps.
    const double highest_Hz = info.probe.center_Hz * (1.0 + info.probe.bandwidth_fraction);
    const double coarsest = 0.25 * c / highest_Hz;
    if (step > coarsest && recipe.depth_step_m) {
        throw InputError(place_of(recipe, "grid.depth_step_mm"),
                         plain(step * 1e3) + " mm is too coarse to hold echoes up to " + plain(highest_Hz * 1e-6) +
                             " MHz along a line; take at most " + plain(coarsest * 1e3) + " mm");
    }
    check_points(recipe, "grid.depth_step_mm", static_cast<double>(grid.origin_m.size()), (most - least) / step + 1.0);
    grid.depth_m = steps(least, most, step);
    return grid;
}

CartesianGrid cartesian_grid(const Recipe& recipe, const RecordingInfo& info) {
    const double c = assumed_sound_speed(recipe, info);
    const double quarter_wavelength = 0.25 * info.probe.wavelength_m(c);
    const double half_pitch = 0.5 * mean_pitch_m(info.probe);
    const auto [left, right] =
        std::ranges::minmax(info.probe.elements, {}, [](const Element& element) { return element.center_m.x(); });
    const double least_x = recipe.least_x_m.value_or(left.center_m.x() - half_pitch);
    const double most_x = recipe.most_x_m.value_or(right.center_m.x() + half_pitch);
    const double x_step = recipe.x_step_m.value_or(quarter_wavelength);
    const double depth_step = recipe.depth_step_m.value_or(quarter_wavelength);

    const AxisRange axis = axis_range(info, c);
    const Coverage coverage(recipe, info);
    std::vector<TransmitPath> transmit;
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        transmit.emplace_back(info, event, c);
    }
    // The outermost columns and the middle one hear the latest echoes.
    const std::array<double, 3> columns{least_x, 0.5 * (least_x + most_x), most_x};
    const double covered = deepest(axis.last_m, [&](double depth) {
        return std::ranges::all_of(columns, [&](double x) {
            const Vec3 origin(x, 0.0, 0.0);
            const Vec3 point(x, 0.0, depth);
            for (std::size_t event = 0; event < info.events.size(); ++event) {
                const TransmitEvent& transmitted = info.events[event];
                const double path =
                    transmit[event](point) + coverage.longest_receive_path_m(transmitted, origin, Vec3::UnitZ(), depth);
                if (path > c * last_sample_s(info, transmitted)) {
                    return false;
                }
            }
            return true;
        });
    });
    const auto [least, most] = depth_range(recipe, axis, covered);
    const double count_x = (most_x - least_x) / x_step + 1.0;
    const double count_depth = (most - least) / depth_step + 1.0;
    check_points(recipe, "grid.x_step_mm", count_x, count_depth);
    return {steps(least_x, most_x, x_step), steps(least, most, depth_step)};
}

}  // namespace echoloom
