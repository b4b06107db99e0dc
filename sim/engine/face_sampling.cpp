#include "sim/engine/face_sampling.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "sim/base/error.h"
#include "sim/engine/quadrature.h"

namespace echoloom {

namespace {

/// Greatest |sine| of the angle between the face normal and the path, along one of the element's axes, over a box.
double steepest_sine(double min_offset, double max_offset, double half, double min_depth) {
    const double farthest = std::max(std::abs(min_offset), std::abs(max_offset)) + half;
    return farthest / std::hypot(farthest, std::max(min_depth, 0.0));
}

/// Greatest slope of the path, lens included, along elevation over the element's height and the box.
double steepest_elevation_slope(const ElementArrays& elements, const Box& box, double depth) {
    double steepest = 0.0;
    const double focus = elements.elevation_focus_m;
    for (int i = -4; i <= 4; ++i) {
        const double height = elements.tallest * i / 4.0;
        const double lens = std::isfinite(focus) ? height / std::hypot(height, focus) : 0.0;
        for (double y : {box.least.y(), box.most.y(), -box.least.y(), -box.most.y()}) {
            for (double row : {-elements.outermost_row, elements.outermost_row}) {
                const double away = row + height - y;
                steepest = std::max(steepest, std::abs(away / std::hypot(away, depth) - lens));
            }
        }
    }
    return steepest;
}

/// Points that integrate a face of `half` length: the phase along it, and how near the box comes.
int face_points(double wavenumber, double slope, double half, double nearest, double tolerance) {
    const int phase = points_for_phase(wavenumber * half * slope, tolerance);
    // The curvature of the path matters only where the phase it adds across the half face does.
    const double curvature_phase = wavenumber * half * half / (2.0 * nearest);
    const int near = curvature_phase > tolerance ? points_for_nearness(nearest / half, tolerance) : 1;
    return std::max(1, std::max(phase, std::min(near, phase + 12)));
}

}  // namespace

int rounded_points(int points) {
    if (points > max_face_points) {
        throw InputError("an element is too large to be integrated for a target so near: more than " +
                         std::to_string(max_face_points) +
                         " points across its face; make width_mm or height_mm smaller, or put targets deeper");
    }
    const int step = points <= 96 ? 1 : (points <= 192 ? 16 : (points <= 384 ? 32 : 64));
    return (points + step - 1) / step * step;
}

int FaceSampling::max_points() const {
    return elevation_points * *std::max_element(lateral_points.begin(), lateral_points.end());
}

FaceSampling sample_faces(const ElementArrays& elements, const Box& box, double wavenumber, double tolerance) {
    FaceSampling out;
    out.lateral_points.resize(elements.padded / element_group);
    double min_depth = std::numeric_limits<double>::infinity();
    double max_depth = 0.0;
    for (std::size_t group = 0; group < out.lateral_points.size(); ++group) {
        int points = 1;
        for (std::size_t e = group * element_group; e < (group + 1) * element_group; ++e) {
            const Vec3 origin(elements.center_x[e], elements.center_y[e], elements.center_z[e]);
            const Vec3 middle = (box.least + box.most) / 2.0 - origin;
            const Vec3 half = (box.most - box.least) / 2.0;
            const Vec3 lateral(elements.lateral_x[e], 0.0, elements.lateral_z[e]);
            const Vec3 normal(elements.normal_x[e], 0.0, elements.normal_z[e]);
            const double offset = middle.dot(lateral);
            const double reach = half.dot(lateral.cwiseAbs());
            const double depth = std::max(middle.dot(normal) - half.dot(normal.cwiseAbs()), 0.0);
            const double nearest = std::hypot(std::max(std::abs(offset) - reach - elements.half_width[e], 0.0), depth);
            const double sine = steepest_sine(offset - reach, offset + reach, elements.half_width[e], depth);
            points = std::max(points, face_points(wavenumber, sine, elements.half_width[e], nearest, tolerance));
            min_depth = std::min(min_depth, std::hypot(std::max(std::abs(offset) - reach, 0.0), depth));
            max_depth = std::max(
                max_depth, std::hypot(std::abs(offset) + reach, middle.dot(normal) + half.dot(normal.cwiseAbs())));
        }
        out.lateral_points[group] = rounded_points(points);
    }
    // A lens can make the path flat at one distance and steep at another.
    const double slope = std::max(steepest_elevation_slope(elements, box, min_depth),
                                  steepest_elevation_slope(elements, box, max_depth));
    const int points = face_points(wavenumber, slope, elements.tallest, min_depth, tolerance);
    // The bound is for a straight phase, and elevation's is curved: one more where there is any.
    out.elevation_points = rounded_points(points > 1 ? points + 1 : points);
    return out;
}

}  // namespace echoloom
