#pragma once
/// What a row of elements sees of a cell: how fast paths from it turn along the row, and how much of a response is left
/// there.

#include <array>
#include <span>
#include <vector>

#include "sim/engine/row_curve.h"

namespace echoloom {

/// One scatterer as a row sees it.
struct Sight {
    Vec3 at;
    double middle_square;  ///< of the height its middle path runs to
    double face_square;    ///< half the range of square distances over the face's height
};

/// How fast paths from a cell turn along the row, in metres per half of the parameter's range.
struct CellView {
    static constexpr std::size_t classes = 16;
    double steepest = 0.0;                 ///< of any path against that of the cell's middle
    std::array<double, classes> energy{};  ///< of paths by that slope, in equal steps, sums to 1
    double elevation = 0.0;                ///< of what a point of the face adds along elevation
    double lateral = 0.0;                  ///< and laterally
    double excess = 0.0;                   ///< greatest path that the face adds, in metres
    double mixed = 0.0;                    ///< greatest xi (R / R_q - 1)
};

std::vector<Sight> sights_of(const ElementArrays& a, std::span<const Scatterer> cell);

/// Square of the part of an offset that lies across the elevation axis.
double in_plane_square(const Vec3& offset, const Vec3& elevation);

/// The middle of a cell and of its scatterers' middle paths.
struct CellMiddle {
    Vec3 at;
    double square;
};

CellMiddle middle_of(std::span<const Sight> sights);

CellView view_cell(const RowCurve& curve, const ElementArrays& a, std::span<const Sight> sights,
                   std::span<const Scatterer> cell, const CellMiddle& middle);

struct ResponseLevel {
    double whole = 1.0;
    double elevation = 1.0;  ///< without what is lost laterally
};

/// How much of the unweakened response is left of a cell's, at the row's middle and ends, at the centre frequency: by
/// the elevation pattern, root mean square over some scatterers, and by the lateral one. Errors must be small against
/// that.
ResponseLevel response_level(const EngineContext& context, const RowCurve& curve, std::span<const Sight> sights,
                             std::span<const Scatterer> cell);

}  // namespace echoloom
