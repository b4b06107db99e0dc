#pragma once
/// Virtual elements for runs of bins: how many for which, where they stand, and what carries their sums to the
/// elements.

#include <span>
#include <vector>

#include "sim/engine/cell_view.h"
#include "sim/engine/face_factor.h"

namespace echoloom {

/// A run of bins with one number of nodes.
struct BinRun {
    int bins = 0;
    std::size_t nodes = 0;
};

/// Runs of bins by the nodes they need, [bin]; short runs join a neighbour that has more.
std::vector<BinRun> group_bins(std::span<const std::size_t> nodes);

/// Chebyshev nodes of the first kind, from 1 down to -1.
std::vector<double> chebyshev_points(std::size_t count);

/// The parameter's range as [-1, 1].
struct UnitRange {
    double middle;
    double half;
    explicit UnitRange(const RowCurve& curve)
        : middle((curve.first + curve.last) / 2.0), half((curve.last - curve.first) / 2.0) {}
    double inside(double parameter) const { return half != 0.0 ? (parameter - middle) / half : 0.0; }
    double outside(double unit) const { return middle + half * unit; }
    std::vector<double> outside(std::span<const double> units) const {
        std::vector<double> out;
        for (const double unit : units) {
            out.push_back(outside(unit));
        }
        return out;
    }
};

/// Nodes for a run of bins. `used` places of the face factor are interpolated from; 0: it is found at the nodes.
NodeGroup make_group(const EngineContext& context, const RowCurve& curve, const CellMiddle& middle, const BinRun& run,
                     int first_bin, const WindowPlan& cell, std::size_t used);

/// The elements themselves as one group.
NodeGroup element_group_of(const EngineContext& context, const RowCurve& curve, const CellMiddle& middle,
                           const WindowPlan& cell, std::size_t used);

}  // namespace echoloom
