#include "sim/array/face.h"

#include <cmath>

namespace echoloom {

namespace {

/// Places of `count` equal parts about 0.
double centred(std::size_t index, std::size_t count, double step) {
    return (static_cast<double>(index) - 0.5 * static_cast<double>(count - 1)) * step;
}

}  // namespace

std::vector<Element> flat_face(std::size_t columns, double pitch_m, double width_m, int rows, double row_pitch_m,
                               double height_m) {
    const auto row_count = static_cast<std::size_t>(rows);
    std::vector<Element> elements;
    elements.reserve(columns * row_count);
    for (std::size_t column = 0; column < columns; ++column) {
        for (std::size_t row = 0; row < row_count; ++row) {
            Element element;
            element.center_m = Vec3(centred(column, columns, pitch_m), centred(row, row_count, row_pitch_m), 0.0);
            element.width_m = width_m;
            element.height_m = height_m;
            elements.push_back(element);
        }
    }
    return elements;
}

std::vector<Element> curved_face(std::size_t count, double radius_m, double pitch_m, double width_m, double height_m) {
    std::vector<Element> elements(count);
    for (std::size_t i = 0; i < count; ++i) {
        const double angle = centred(i, count, pitch_m / radius_m);
        elements[i].normal = Vec3(std::sin(angle), 0.0, std::cos(angle));
        elements[i].center_m = radius_m * (elements[i].normal - Vec3::UnitZ());
        elements[i].width_m = width_m;
        elements[i].height_m = height_m;
    }
    return elements;
}

std::vector<Element> ring_face(std::span<const double> edges_m) {
    std::vector<Element> elements;
    for (std::size_t i = 0; i + 1 < edges_m.size(); i += 2) {
        Element element;
        element.inner_m = edges_m[i];
        element.outer_m = edges_m[i + 1];
        element.width_m = 2.0 * element.outer_m;
        element.height_m = 2.0 * element.outer_m;
        elements.push_back(element);
    }
    return elements;
}

std::vector<double> equal_area_edges(int count, double radius_m, double kerf_m) {
    std::vector<double> edges;
    for (int i = 0; i < count; ++i) {
        const double inner = radius_m * std::sqrt(static_cast<double>(i) / count);
        const double outer = radius_m * std::sqrt(static_cast<double>(i + 1) / count);
        edges.push_back(i == 0 ? 0.0 : inner + 0.5 * kerf_m);
        edges.push_back(i + 1 == count ? outer : outer - 0.5 * kerf_m);
    }
    return edges;
}

double ring_radius_m(const Element& ring) {
    return std::sqrt(0.5 * (ring.inner_m * ring.inner_m + ring.outer_m * ring.outer_m));
}

double face_lateral_m(const Probe& probe, const Vec3& point_m) {
    return probe.radius_m > 0.0 ? probe.radius_m * std::atan2(point_m.x(), point_m.z() + probe.radius_m) : point_m.x();
}

FacePlace face_place(const Probe& probe, double lateral_m) {
    if (probe.radius_m <= 0.0) {
        return {Vec3(lateral_m, 0.0, 0.0), Vec3::UnitZ()};
    }
    const double angle = lateral_m / probe.radius_m;
    const Vec3 normal(std::sin(angle), 0.0, std::cos(angle));
    return {probe.radius_m * (normal - Vec3::UnitZ()), normal};
}

int column_count(const Probe& probe) {
    return static_cast<int>(probe.elements.size()) / probe.rows;
}

double half_face_m(const Probe& probe) {
    return 0.5 * column_count(probe) * probe.pitch_m;
}

}  // namespace echoloom
