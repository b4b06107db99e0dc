#include "sim/engine/node_sums.h"

#include <algorithm>

#include "sim/engine/expand.h"

namespace echoloom {

namespace {

/// Scatterers whose responses are kept together: they and their sums stay in a cache of a mebibyte or two.
constexpr std::size_t part = 32;

}  // namespace

std::size_t NodeSums::values(const VirtualElements& virtual_elements) {
    return virtual_elements.strip_values() * (virtual_elements.targets / strip_rows);
}

void compute_node_sums(const EngineContext& context, const WindowPlan& plan, const VirtualElements& virtual_elements,
                       std::span<const Scatterer> cell, NodeScratch& scratch, const NodeSums& out) {
    const std::span<const NodeGroup> groups = virtual_elements.groups;
    if (scratch.responses.size() < groups.size()) {
        scratch.responses.resize(groups.size());
        scratch.sums.resize(groups.size());
    }
    for (std::size_t at = 0; at < cell.size(); at += part) {
        compute_node_responses(context, plan, virtual_elements.factor, groups,
                               cell.subspan(at, std::min(part, cell.size() - at)), scratch.factor,
                               std::span(scratch.responses).first(groups.size()));
        for (std::size_t g = 0; g < groups.size(); ++g) {
            accumulate_square(scratch.responses[g], at == 0, scratch.sums[g]);
        }
    }
    const std::size_t targets = virtual_elements.targets;
    const std::size_t strip = virtual_elements.strip_values();
    std::size_t from = 0;
    for (std::size_t g = 0; g < groups.size(); ++g) {
        SquareSums& sums = scratch.sums[g];
        const std::size_t nodes = groups[g].nodes;
        const std::size_t padded = groups[g].elements.padded;
        const auto bins = static_cast<std::size_t>(groups[g].plan.bins);
        for (std::size_t k = 0; k < bins; ++k) {
            for (const bool imaginary : {false, true}) {
                float* matrix = (imaginary ? sums.imaginary : sums.real).data() + k * padded * padded;
                float* to = (imaginary ? out.imaginary : out.real).data() + from + k * nodes * strip_rows;
                fill_lower_half(matrix, padded);
                multiply({.left = matrix,
                          .left_step = padded,
                          .left_row_step = 1,
                          .next_left = nullptr,
                          .right = groups[g].interpolation.data(),
                          .right_panel = nodes * element_group,
                          .depth = nodes,
                          .rows = nodes,
                          .columns = targets,
                          .out = to,
                          .out_step = strip_rows,
                          .out_group_step = strip});
            }
        }
        from += bins * nodes * strip_rows;
    }
}

void expand_node_sums(const NodeSums& sums, const VirtualElements& virtual_elements, StripSums& strip) {
    std::size_t from = strip.first_row / strip_rows * virtual_elements.strip_values();
    std::size_t bin = 0;
    for (const NodeGroup& group : virtual_elements.groups) {
        bin += static_cast<std::size_t>(group.plan.bins);
    }
    strip.make_room(bin);
    bin = 0;
    for (const NodeGroup& group : virtual_elements.groups) {
        const std::size_t nodes = group.nodes;
        for (int k = 0; k < group.plan.bins; ++k) {
            for (const bool imaginary : {false, true}) {
                const float* left = (imaginary ? sums.imaginary : sums.real).data() + from;
                multiply({.left = left,
                          .left_step = strip_rows,
                          .left_row_step = 1,
                          .next_left = left + nodes * strip_rows,
                          .right = group.interpolation.data() + strip.first_column * nodes,
                          .right_panel = nodes * element_group,
                          .depth = nodes,
                          .rows = strip_rows,
                          .columns = strip.width,
                          .out = (imaginary ? strip.imaginary : strip.real).data() + strip.at(bin, 0),
                          .out_step = strip.width,
                          .out_group_step = element_group});
            }
            from += nodes * strip_rows;
            ++bin;
        }
    }
}

}  // namespace echoloom
