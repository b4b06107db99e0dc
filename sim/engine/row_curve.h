#pragma once
/// A row of equal elements as a curve with a parameter, along which the field of a small cell is smooth.

#include <optional>
#include <span>

#include "sim/engine/window_plan.h"

namespace echoloom {

/// The parameter is the angle under which a cell's middle sees the row, counted from one end to the other; on an arc
/// whose far elements look away from the cell it is the angle on the circle.
class RowCurve {
  public:
    /// Nothing where the elements are neither a straight row nor an arc.
    static std::optional<RowCurve> seen_from(const EngineContext& context, const Vec3& middle, double middle_square);

    double parameter(std::size_t element) const;
    /// Centre and normal of a face at a parameter.
    Element face(double parameter) const;

    double first = 0.0;  ///< parameter of the first element and of the last
    double last = 0.0;

  private:
    explicit RowCurve(const ElementArrays& elements) : elements_(&elements) {}
    double angle_on_circle(std::size_t element) const;

    const ElementArrays* elements_;
    Vec3 origin_ = Vec3::Zero();  ///< first element's centre, or the circle's middle
    double along_ = 0.0;          ///< place of the cell along the row, or its angle on the circle
    double away_ = 0.0;           ///< distance from the row, or from the circle's middle
    double radius_ = 0.0;         ///< 0 for a straight row
    bool by_view_ = true;
};

/// Faces of the row's size and kind at some parameters.
ElementArrays faces_at(const RowCurve& curve, const ElementArrays& elements, std::span<const double> parameters);

}  // namespace echoloom
