#pragma once
/// Sums over a cell's scatterers at virtual elements, and their way to the elements.

#include <span>

#include "sim/engine/product.h"
#include "sim/engine/virtual_elements.h"

namespace echoloom {

/// Sums of all pairs of a node and an element, as the strips of rows use them:
/// [strip][group][bin][node][row in strip].
struct NodeSums {
    std::span<float> real;
    std::span<float> imaginary;

    /// Values of either part for a cell.
    static std::size_t values(const VirtualElements& virtual_elements);
};

/// Work space of one thread.
struct NodeScratch {
    FaceFactorScratch factor;
    std::vector<ResponseGrid> responses;  ///< [group]
    std::vector<SquareSums> sums;         ///< [group]
};

/// M B of every bin: sums for pairs of nodes, M, with their columns carried to the elements by B.
void compute_node_sums(const EngineContext& context, const WindowPlan& plan, const VirtualElements& virtual_elements,
                       std::span<const Scatterer> cell, NodeScratch& scratch, const NodeSums& out);

/// Carries the rows of one strip, too, for the columns that it has: B^T M B.
void expand_node_sums(const NodeSums& sums, const VirtualElements& virtual_elements, StripSums& strip);

}  // namespace echoloom
