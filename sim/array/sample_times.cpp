#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "sim/array/face.h"
#include "sim/array/scan_events.h"
#include "sim/array/transmit.h"

namespace echoloom {

namespace {

/// The pulse is called over where it is this far below its peak.
constexpr double over_level = 1e-4;  // -80 dB

/// How far to either side the pixels of waves from a phased array are thought to reach.
constexpr double sector_half_rad = 0.25 * std::numbers::pi;
constexpr int parts_across = 96;

/// The points at a range that an event serves: that of its own line; else a row of pixels, from below one end of the
/// face to below the other, or across a sector where the array is made for one.
std::vector<Vec3> points_served(const TransmitEvent& event, const Probe& probe, double range_m) {
    if (event.kind == TransmitKind::focused) {
        return {event.origin_m + range_m * event.direction};
    }
    std::vector<Vec3> points;
    for (int part = 0; part <= parts_across; ++part) {
        const double across = 2.0 * part / parts_across - 1.0;
        if (probe.kind == "phased") {
            points.push_back(range_m * direction_at(across * sector_half_rad));
        } else {
            const FacePlace place = face_place(probe, across * half_face_m(probe));
            points.push_back(place.origin_m + range_m * place.normal);
        }
    }
    return points;
}

/// Path of an event's front from its origin to a point it serves.
double transmit_path_m(const TransmitEvent& event, const Vec3& point) {
    if (event.kind == TransmitKind::diverging) {
        return (point - event.focus_m).norm() - (event.origin_m - event.focus_m).norm();
    }
    const Vec3 offset = point - event.origin_m;
    return event.kind == TransmitKind::plane ? offset.dot(event.direction) : offset.norm();
}

/// Shortest and longest way from an event's origin over the points it serves at a range to its receivers.
struct Paths {
    double shortest_m = std::numeric_limits<double>::infinity();
    double longest_m = 0.0;
};

Paths echo_paths(const TransmitEvent& event, const Probe& probe, double range_m) {
    Paths paths;
    for (const Vec3& point : points_served(event, probe, range_m)) {
        const double out_m = transmit_path_m(event, point);
        for (const int receiver : event.receivers) {
            const double back_m = (point - probe.elements[static_cast<std::size_t>(receiver)].center_m).norm();
            paths.shortest_m = std::min(paths.shortest_m, out_m + back_m);
            paths.longest_m = std::max(paths.longest_m, out_m + back_m);
        }
    }
    return paths;
}

/// Rings receive from the end of their own axis; rotating meanwhile, they are a little farther from it.
double last_swept_echo_s(const Probe& probe, const Scan& scan) {
    const double turned_m = std::abs(scan.head->rotation_rate_rad_s) * 2.0 * scan.max_depth_m / scan.sound_speed_m_s *
                            (scan.max_depth_m + scan.head->axis_to_face_m);
    const double aside_m = probe.elements.back().outer_m + turned_m;
    return (scan.max_depth_m + std::hypot(scan.max_depth_m, aside_m)) / scan.sound_speed_m_s;
}

double last_echo_s(const TransmitEvent& event, const Probe& probe, const Scan& scan) {
    return scan.head ? last_swept_echo_s(probe, scan)
                     : echo_paths(event, probe, scan.max_depth_m).longest_m / scan.sound_speed_m_s;
}

double first_echo_s(const TransmitEvent& event, const Probe& probe, const Scan& scan) {
    double shortest_m = 2.0 * scan.min_depth_m;
    if (!scan.head) {
        // The end of a steered line, or of a sector, lies nearer to some receiver than to the line's origin; a front
        // may pass the ends of a curved array before its own origin.
        shortest_m = std::min(shortest_m, echo_paths(event, probe, scan.min_depth_m).shortest_m);
    }
    if (event.kind == TransmitKind::plane) {
        // A tilted front runs ahead over one edge of the array, and over the ends of a curved one.
        double lowest_m = 0.0;
        for (const Element& element : probe.elements) {
            lowest_m = std::min(lowest_m, element.center_m.z());
        }
        shortest_m = std::min(shortest_m, scan.min_depth_m * (1.0 + event.direction.z()) -
                                              half_face_m(probe) * std::abs(event.direction.x()) +
                                              lowest_m * event.direction.z());
    }
    return shortest_m / scan.sound_speed_m_s;
}

}  // namespace

void set_sample_times(const Probe& probe, Scan& scan) {
    double longest_s = 0.0;
    for (TransmitEvent& event : scan.events) {
        event.start_time_s = first_echo_s(event, probe, scan);
        longest_s = std::max(longest_s, last_echo_s(event, probe, scan) - event.start_time_s);
    }
    longest_s += pulse_tail_s(probe.pulse, over_level);
    scan.samples = static_cast<std::size_t>(std::ceil(longest_s * scan.sampling_rate_Hz)) + 1;
}

}  // namespace echoloom
