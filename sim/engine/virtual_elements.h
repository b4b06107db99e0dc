#pragma once
/// Fewer elements than there are. Over a small cell, the field along a row of elements is smooth once the travel from
/// the cell's middle is taken out; so the echoes are formed for a few virtual elements, at Chebyshev nodes in the angle
/// under which the cell sees the row, and carried to the elements by a real interpolation and a phase. Low frequencies
/// need fewer nodes, so bins go in groups.

#include <optional>

#include "sim/engine/face_factor.h"

namespace echoloom {

struct VirtualElements {
    FaceFactorPlan factor;
    std::vector<NodeGroup> groups;  ///< in order of bins, all of them
    std::size_t targets = 0;        ///< elements, padded
    bool at_elements = false;       ///< one group, the elements themselves: only the face factor is cheaper

    /// Values of one strip of rows when its columns still stand at nodes: [group][bin][node][row in strip].
    std::size_t strip_values() const;
};

/// Virtual elements for a cell of a row, where they make its `scatterers` cheaper; changes `plan` (reference paths and
/// what is left of the delays at each element) to go with them.
std::optional<VirtualElements> plan_virtual_elements(const EngineContext& context, std::span<const Scatterer> cell,
                                                     std::size_t pairs, WindowPlan& plan);

/// What a cell with the extent of some scatterers would cost if it held `scatterers` of them (cell_cost.h).
double cell_cost(const EngineContext& context, std::span<const Scatterer> extent, double scatterers, std::size_t pairs);

}  // namespace echoloom
