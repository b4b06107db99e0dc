#pragma once
/// What the kernel of product.cpp is handed.

#include <cstddef>

namespace echoloom {

/// Where a strip of rows of every bin goes: rows first_row to first_row + 15, columns first_row to first_row + width
/// - 1.
struct ProductTarget {
    std::size_t first_row;
    std::size_t width;
    std::size_t row_step;
    std::size_t bin_step;
    float* left;  ///< scratch: [scatterer * 2 * strip_rows + row], real parts then imaginary parts
    float* real;  ///< of bin 0, first row and first column
    float* imaginary;
};

}  // namespace echoloom
