#include "phantoms/phantom.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

namespace echoloom {

namespace {

constexpr double square(double value) {
    return value * value;
}

/// Points whose convex hull is `shape`: exact for a box, close-set for round shapes.
std::vector<Vec3> surface_points(const Shape& shape) {
    constexpr int turns = 360;
    constexpr int rings = 90;
    std::vector<Vec3> unit;
    for (int i = 0; i < turns && shape.kind != RegionShape::box; ++i) {
        const double angle = 2.0 * std::numbers::pi * i / turns;
        const double c = std::cos(angle);
        const double s = std::sin(angle);
        if (shape.kind == RegionShape::cylinder) {
            unit.emplace_back(c, -1.0, s);
            unit.emplace_back(c, 1.0, s);
            continue;
        }
        for (int j = 0; j <= rings; ++j) {
            const double y = std::cos(std::numbers::pi * j / rings);
            const double radius = std::sqrt(std::max(0.0, 1.0 - y * y));
            unit.emplace_back(radius * c, y, radius * s);
        }
    }
    for (int corner = 0; corner < 8 && shape.kind == RegionShape::box; ++corner) {
        unit.emplace_back((corner & 1) != 0 ? 1.0 : -1.0, (corner & 2) != 0 ? 1.0 : -1.0,
                          (corner & 4) != 0 ? 1.0 : -1.0);
    }
    for (Vec3& point : unit) {
        point = shape.center_m + shape.half_size_m.cwiseProduct(point);
    }
    return unit;
}

}  // namespace

bool Shape::contains(double x, double y, double z) const {
    const double dx = std::abs(x - center_m.x());
    const double dy = std::abs(y - center_m.y());
    const double dz = std::abs(z - center_m.z());
    if (dz > half_size_m.z() || dx > half_size_m.x() || dy > half_size_m.y()) {
        return false;
    }
    switch (kind) {
        case RegionShape::box:
            return true;
        case RegionShape::cylinder:
            return square(dx / half_size_m.x()) + square(dz / half_size_m.z()) <= 1.0;
        case RegionShape::sphere:
        case RegionShape::ellipsoid:
            break;
    }
    return square(dx / half_size_m.x()) + square(dy / half_size_m.y()) + square(dz / half_size_m.z()) <= 1.0;
}

bool Shape::holds(const Shape& other) const {
    Shape forgiving = *this;
    forgiving.half_size_m *= 1.0 + 1e-9;
    return std::ranges::all_of(surface_points(other),
                               [&](const Vec3& point) { return forgiving.contains(point.x(), point.y(), point.z()); });
}

std::size_t SpeckleRegion::candidate_count() const {
    const double volume_mm3 = 8.0 * shape.half_size_m.prod() * 1e9;
    return static_cast<std::size_t>(std::llround(density_per_mm3 * volume_mm3));
}

Vec3 Sheet::slope() const {
    const auto to_40_bits = [](double value) { return std::ldexp(std::round(std::ldexp(value, 40)), -40); };
    return {0.0, to_40_bits(std::cos(tilt_rad)), to_40_bits(std::sin(tilt_rad))};
}

Box Sheet::box() const {
    const Vec3 reach = Vec3(half_width_m, 0.0, 0.0) + half_length_m * slope().cwiseAbs();
    return {center_m - reach, center_m + reach};
}

std::size_t Sheet::candidate_count() const {
    return static_cast<std::size_t>(std::llround(density_per_mm2 * 4.0 * half_width_m * half_length_m * 1e6));
}

std::size_t Phantom::candidate_count() const {
    std::size_t count = 0;
    for (const FixedTarget& target : targets) {
        count += target.count;
    }
    for (const SpeckleRegion& region : regions) {
        count += region.candidate_count();
    }
    for (const Sheet& sheet : sheets) {
        count += sheet.candidate_count();
    }
    return count;
}

Box Phantom::bounds() const {
    constexpr double far = std::numeric_limits<double>::infinity();
    if (targets.empty() && regions.empty() && sheets.empty()) {
        return {};
    }
    Box bounds{Vec3::Constant(far), Vec3::Constant(-far)};
    const auto include = [&](const Box& box) {
        bounds.least = bounds.least.cwiseMin(box.least);
        bounds.most = bounds.most.cwiseMax(box.most);
    };
    for (const FixedTarget& target : targets) {
        const Vec3 reach(0.0, target.half_length_m, 0.0);
        include({target.center_m - reach, target.center_m + reach});
    }
    for (const SpeckleRegion& region : regions) {
        include(region.shape.box());
    }
    for (const Sheet& sheet : sheets) {
        include(sheet.box());
    }
    bounds.most = bounds.most.unaryExpr([](double most) { return std::nextafter(most, far); });
    return bounds;
}

}  // namespace echoloom
