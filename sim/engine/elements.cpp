#include "sim/engine/elements.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>

namespace echoloom {

ElementArrays element_arrays(const Probe& probe) {
    ElementArrays out;
    out.count = probe.elements.size();
    out.padded = (out.count + element_group - 1) / element_group * element_group;
    out.soft = probe.baffle == Baffle::soft;
    out.elevation_focus_m = probe.elevation_focus_m;
    for (std::size_t i = 0; i < out.padded; ++i) {
        const Element& element = probe.elements[std::min(i, out.count - 1)];
        const Vec3 lateral = Vec3::UnitY().cross(element.normal).normalized();
        const Vec3 elevation = element.normal.cross(lateral);
        out.center_x.push_back(element.center_m.x());
        out.center_y.push_back(element.center_m.y());
        out.center_z.push_back(element.center_m.z());
        out.lateral_x.push_back(lateral.x());
        out.lateral_y.push_back(lateral.y());
        out.lateral_z.push_back(lateral.z());
        out.elevation_x.push_back(elevation.x());
        out.elevation_y.push_back(elevation.y());
        out.elevation_z.push_back(elevation.z());
        out.normal_x.push_back(element.normal.x());
        out.normal_y.push_back(element.normal.y());
        out.normal_z.push_back(element.normal.z());
        out.half_width.push_back(element.width_m / 2.0);
        out.half_height.push_back(element.height_m / 2.0);
        out.widest = std::max(out.widest, element.width_m / 2.0);
        out.outermost_row = std::max(out.outermost_row, std::abs(element.center_m.y()));
        out.tallest = std::max(out.tallest, element.height_m / 2.0);
    }
    return out;
}

bool is_straight_row(const Probe& probe) {
    const Element& first = probe.elements.front();
    const Vec3 lateral = Vec3::UnitY().cross(first.normal).normalized();
    return std::all_of(probe.elements.begin(), probe.elements.end(), [&](const Element& element) {
        const Vec3 along = element.center_m - first.center_m;
        return element.normal == first.normal && element.width_m == first.width_m &&
               element.height_m == first.height_m && (along - along.dot(lateral) * lateral).norm() < 1e-9;
    });
}

std::optional<Arc> find_arc(const Probe& probe) {
    const Element& first = probe.elements.front();
    const Element& last = probe.elements.back();
    const double turned = (last.normal - first.normal).norm();
    if (probe.elements.size() < 2 || turned < 1e-6) {
        return std::nullopt;
    }
    Arc arc;
    arc.radius_m = (last.center_m - first.center_m).dot(last.normal - first.normal) / (turned * turned);
    arc.middle = first.center_m - arc.radius_m * first.normal;
    const bool fits = std::all_of(probe.elements.begin(), probe.elements.end(), [&](const Element& element) {
        return std::abs(element.normal.y()) < 1e-12 && element.width_m == first.width_m &&
               element.height_m == first.height_m &&
               (arc.middle + arc.radius_m * element.normal - element.center_m).norm() < 1e-9;
    });
    return fits && arc.radius_m > 0.0 ? std::optional(arc) : std::nullopt;
}

double lens_delay_s(double elevation_focus_m, double y_m, double sound_speed_m_s) {
    if (!std::isfinite(elevation_focus_m)) {
        return 0.0;
    }
    // The difference of two nearly equal lengths, written without cancellation.
    const double rim = std::hypot(elevation_focus_m, y_m);
    return -(y_m * y_m) / ((rim + elevation_focus_m) * sound_speed_m_s);
}

}  // namespace echoloom
