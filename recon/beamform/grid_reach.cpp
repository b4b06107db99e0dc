#include "recon/beamform/grid_reach.h"

#include <algorithm>
#include <cmath>

#include "recon/beamform/beamform.h"
#include "sim/base/text.h"

namespace echoloom {
namespace {

constexpr double longest_echo_s = 20e-3;

/// More than any echo's way back, and than what any pixel adds to the way to the grid's first.
double longest_way_back_m(const RecordingInfo& info, const Recipe& recipe, const PixelColumns& columns) {
    const auto pixel = [&](const LineStart& start, double depth) { return start.origin_m + depth * start.direction; };
    const Vec3 corner = pixel(columns.starts.front(), columns.depth_m.front());
    double diagonal = 0.0;
    double sideways = 0.0;
    for (const LineStart& start : columns.starts) {
        diagonal = std::max(diagonal, (pixel(start, columns.depth_m.back()) - corner).norm());
        diagonal = std::max(diagonal, (pixel(start, columns.depth_m.front()) - corner).norm());
        sideways = std::max(sideways, start.origin_m.norm());
    }
    double deepest = std::max(std::abs(columns.depth_m.front()), std::abs(columns.depth_m.back()));
    for (const double focus : recipe.focus_depths_m) {
        deepest = std::max(deepest, focus);
    }
    double farthest = 0.0;
    for (const Element& element : info.probe.elements) {
        farthest = std::max(farthest, element.center_m.norm());
    }
    return diagonal + sideways + farthest + 2.0 * deepest;
}

}  // namespace

void check_reach(const RecordingInfo& info, const Recipe& recipe, const PixelColumns& columns,
                 std::span<const TransmitPath> transmit) {
    const LineStart& first = columns.starts.front();
    const Vec3 corner = first.origin_m + columns.depth_m.front() * first.direction;
    const double back = longest_way_back_m(info, recipe, columns);
    for (std::size_t event = 0; event < transmit.size(); ++event) {
        const TransmitEvent& transmitted = info.events[event];
        // Through a focus a path is at most that to the focus and from there on.
        const double there = transmit[event].cone() ? (transmitted.focus_m - transmitted.origin_m).norm() +
                                                          (corner - transmitted.focus_m).norm()
                                                    : std::abs(transmit[event](corner));
        const double longest_s = std::max(transmitted.start_time_s, (there + back) / assumed_sound_speed(recipe, info));
        if (!(longest_s < longest_echo_s)) {
            throw InputError("echoes of event " + plain(static_cast<double>(event + 1)) + " would come back after " +
                             plain(longest_s * 1e3) + " ms, and the limit is " + plain(longest_echo_s * 1e3) +
                             " ms: check the recording's start times, and the recipe's grid and focus depths");
        }
    }
}

}  // namespace echoloom
