#include "sim/engine/row_curve.h"

#include <algorithm>
#include <cmath>

namespace echoloom {

namespace {

Vec3 center_of(const ElementArrays& a, std::size_t e) {
    return {a.center_x[e], a.center_y[e], a.center_z[e]};
}
Vec3 lateral_of(const ElementArrays& a, std::size_t e) {
    return {a.lateral_x[e], a.lateral_y[e], a.lateral_z[e]};
}
Vec3 normal_of(const ElementArrays& a, std::size_t e) {
    return {a.normal_x[e], a.normal_y[e], a.normal_z[e]};
}

}  // namespace

std::optional<RowCurve> RowCurve::seen_from(const EngineContext& context, const Vec3& middle, double middle_square) {
    const ElementArrays& a = context.elements;
    RowCurve curve(a);
    if (context.straight_row) {
        curve.origin_ = center_of(a, 0);
        const Vec3 offset = middle - curve.origin_;
        curve.along_ = offset.dot(lateral_of(a, 0));
        curve.away_ = std::hypot(offset.dot(normal_of(a, 0)), std::sqrt(middle_square));
    } else if (context.arc) {
        curve.origin_ = context.arc->middle;
        curve.radius_ = context.arc->radius_m;
        const Vec3 offset = middle - curve.origin_;
        curve.along_ = std::atan2(offset.x(), offset.z());
        curve.away_ = std::hypot(offset.x(), offset.z());
        // Beyond the circle's horizon the view turns back.
        const double horizon = 0.98 * std::acos(std::min(1.0, curve.radius_ / curve.away_));
        curve.by_view_ = std::abs(curve.angle_on_circle(0) - curve.along_) < horizon &&
                         std::abs(curve.angle_on_circle(a.count - 1) - curve.along_) < horizon;
    } else {
        return std::nullopt;
    }
    curve.first = curve.parameter(0);
    curve.last = curve.parameter(a.count - 1);
    return curve;
}

double RowCurve::angle_on_circle(std::size_t e) const {
    return std::atan2(elements_->normal_x[e], elements_->normal_z[e]);
}

double RowCurve::parameter(std::size_t e) const {
    if (radius_ == 0.0) {
        return std::atan2((center_of(*elements_, e) - origin_).dot(lateral_of(*elements_, 0)) - along_, away_);
    }
    const double angle = angle_on_circle(e);
    if (!by_view_) {
        return angle;
    }
    const double turn = angle - along_;
    return std::atan2(radius_ * std::sin(turn), away_ - radius_ * std::cos(turn));
}

Element RowCurve::face(double parameter) const {
    Element out;
    out.width_m = 2.0 * elements_->half_width[0];
    out.height_m = 2.0 * elements_->half_height[0];
    if (radius_ == 0.0) {
        out.center_m = origin_ + (along_ + away_ * std::tan(parameter)) * lateral_of(*elements_, 0);
        out.normal = normal_of(*elements_, 0);
        return out;
    }
    // Law of sines in the triangle of circle's middle, cell and face.
    const double angle =
        by_view_ ? along_ + std::asin(std::clamp(away_ * std::sin(parameter) / radius_, -1.0, 1.0)) - parameter
                 : parameter;
    out.normal = Vec3(std::sin(angle), 0.0, std::cos(angle));
    out.center_m = origin_ + radius_ * out.normal;
    return out;
}

ElementArrays faces_at(const RowCurve& curve, const ElementArrays& elements, std::span<const double> parameters) {
    Probe probe;
    probe.elevation_focus_m = elements.elevation_focus_m;
    probe.baffle = elements.soft ? Baffle::soft : Baffle::rigid;
    for (const double parameter : parameters) {
        probe.elements.push_back(curve.face(parameter));
    }
    return element_arrays(probe);
}

}  // namespace echoloom
