#pragma once
/// Between places in the image plane and fractional indices of a grid. The elevation coordinate is ignored.

#include <optional>
#include <vector>

#include "recon/beamform/beamform.h"

namespace echoloom {

struct GridIndex {
    double column = 0.0;
    double depth = 0.0;
};

/// Where a place lies in the grid; nothing where it lies outside.
std::optional<GridIndex> index_of(const Grid& grid, const Vec3& place_m);

/// The column through a place, at whatever depth; nothing where it lies outside the grid.
std::optional<double> column_of(const Grid& grid, const Vec3& place_m);

/// Depths of a grid along its columns, in metres.
const std::vector<double>& depths_of(const Grid& grid);

/// Origin and unit direction of the (interpolated) column at a fractional index; a Cartesian column starts at z = 0.
struct Column {
    Vec3 origin_m;
    Vec3 direction;
    /// Unit vector perpendicular to the column in the image plane: +x for a column that points down.
    Vec3 lateral() const { return {direction.z(), 0.0, -direction.x()}; }
};
Column column_at(const Grid& grid, double column);

/// The cut through a place perpendicular to every column it crosses, over the adjacent columns that it meets inside the
/// grid: a row at one depth where the columns point down, a straight oblique cut through parallel steered ones, an arc
/// about the point from which they fan.
struct LateralCut {
    std::size_t first_column = 0;
    std::vector<double> position_m;   ///< along the cut from the place, positive along Column::lateral()
    std::vector<double> depth_index;  ///< fractional
};
LateralCut lateral_cut(const Grid& grid, const GridIndex& place);

}  // namespace echoloom
