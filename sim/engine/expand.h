#pragma once
/// out = left^T right for real matrices: the kernel that carries sums from virtual elements to elements.

#include <cstddef>

namespace echoloom {

/// out[r][c] = sum over k < depth of left[k * left_step + r * left_row_step] right[k][c], for `rows` rows
/// (a multiple of 8) and `columns` columns (a multiple of element_group), in order of k.
struct RealProduct {
    const float* left;
    std::size_t left_step;
    std::size_t left_row_step;
    const float* next_left;  ///< what the next product will read, fetched ahead; or null
    const float* right;
    std::size_t right_panel;  ///< columns stand in panels of element_group, this far apart: [panel][k][column]
    std::size_t depth;
    std::size_t rows;
    std::size_t columns;
    float* out;
    std::size_t out_step;
    std::size_t out_group_step;  ///< from one group of element_group columns to the next
};

void multiply(const RealProduct& product);

}  // namespace echoloom
