#pragma once
/// The product at the heart of the engine: for each bin, the sum over a cell's scatterers of strength G_i G_j for pairs
/// of elements. Reciprocity makes it symmetric, so only pairs with j >= i are formed, in strips of rows.

#include <cstddef>
#include <vector>

#include "sim/engine/response.h"

namespace echoloom {

inline constexpr std::size_t strip_rows = 16;

/// Sums of one strip of rows, or of some of its columns: [bin][row in strip][column - first_column], real and imaginary
/// parts apart.
struct StripSums {
    std::size_t first_row = 0;     ///< a multiple of strip_rows
    std::size_t first_column = 0;  ///< first_row, or a later multiple of strip_rows
    std::size_t last_column = 0;   ///< one past the last column any row of the strip needs
    std::size_t width = 0;         ///< columns kept, whole vectors
    AlignedVector<float> real;
    AlignedVector<float> imaginary;
    AlignedVector<float> left;  ///< scratch: strength-weighted rows of one bin

    std::size_t at(std::size_t bin, std::size_t row) const { return (bin * strip_rows + row) * width; }
    void make_room(std::size_t bins);
};

/// Sums of all pairs, [bin][row][column], of as many rows as the responses have places.
struct SquareSums {
    AlignedVector<float> real;
    AlignedVector<float> imaginary;
    AlignedVector<float> left;  ///< scratch
};

/// Adds a block of scatterers to the upper half; groups of element_group columns left of the diagonal are untouched.
void accumulate_square(const ResponseGrid& responses, bool fresh, SquareSums& sums);

/// Copies the upper half of a square matrix to its lower half.
void fill_lower_half(float* matrix, std::size_t rows);

/// Adds a block of scatterers to a strip; `fresh` starts the sums at zero. Scatterers are added in order, whatever the
/// vector width, so targets with fused multiply-add agree to the bit.
void accumulate_products(const ResponseGrid& responses, bool fresh, StripSums& strip);

/// The plain loop that the fast one is held to in tests; same sums, same order, in double precision.
void accumulate_products_plain(const ResponseGrid& responses, bool fresh, StripSums& strip);

}  // namespace echoloom
