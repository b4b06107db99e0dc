#pragma once
/// Fewer elements than there are. Over a small cell, the field along a straight array is smooth once the travel from
/// the cell's middle is taken out; so the echoes are formed for a few virtual elements, at Chebyshev nodes in the angle
/// under which the cell sees the array, and carried to the elements by a real interpolation and a phase.

#include <optional>

#include "sim/base/aligned.h"
#include "sim/engine/product.h"
#include "sim/engine/window_plan.h"

namespace echoloom {

struct VirtualElements {
    ElementArrays elements;              ///< at the nodes
    WindowPlan plan;                     ///< the cell's bins, with references at the nodes
    AlignedVector<float> interpolation;  ///< [node][element], padded on both
    std::size_t padded_targets = 0;      ///< elements, padded
};

/// Virtual elements for a cell of a straight row, where they make its `scatterers` cheaper; changes `plan` (reference
/// paths and what is left of the delays at each element) to go with them.
std::optional<VirtualElements> plan_virtual_elements(const EngineContext& context, std::span<const Scatterer> cell,
                                                     std::size_t pairs, WindowPlan& plan);

/// Sums over a cell's scatterers for all pairs of nodes: [bin][node][node], padded rows, both halves filled.
struct NodeSums {
    std::size_t nodes = 0;  ///< padded
    std::size_t bins = 0;
    AlignedVector<float> real;
    AlignedVector<float> imaginary;
};

/// Work space of one thread.
struct NodeScratch {
    ResponseGrid responses;
    std::vector<StripSums> strips;
};

void compute_node_sums(const EngineContext& context, const VirtualElements& virtual_elements,
                       std::span<const Scatterer> cell, NodeScratch& scratch, NodeSums& out);

/// Carries the nodes' sums to one strip of pairs of elements: B^T M B by rows.
void expand_node_sums(const NodeSums& sums, const VirtualElements& virtual_elements, StripSums& strip);

}  // namespace echoloom
