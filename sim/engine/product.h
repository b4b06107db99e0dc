#pragma once
/// The product at the heart of the engine: for each bin, the sum over a cell's scatterers of strength G_i G_j for pairs
/// of elements. Reciprocity makes it symmetric, so only pairs with j >= i are formed, in strips of rows.

#include <cstddef>
#include <vector>

#include "sim/engine/response.h"

namespace echoloom {

inline constexpr std::size_t strip_rows = 16;

/// Sums of one strip of rows: [bin][row in strip][column - first_row], real and imaginary parts apart.
struct StripSums {
    std::size_t first_row = 0;    ///< a multiple of strip_rows
    std::size_t last_column = 0;  ///< one past the last column any row of the strip needs
    std::size_t width = 0;        ///< columns kept, whole vectors
    AlignedVector<float> real;
    AlignedVector<float> imaginary;
    std::vector<float> left;    ///< scratch: strength-weighted rows of one bin
    AlignedVector<float> half;  ///< scratch: rows carried to elements, columns still at virtual ones

    std::size_t at(std::size_t bin, std::size_t row) const { return (bin * strip_rows + row) * width; }
    void make_room(std::size_t bins);
};

/// Adds a block of scatterers to a strip; `fresh` starts the sums at zero. Scatterers are added in order, whatever the
/// vector width, so targets with fused multiply-add agree to the bit.
void accumulate_products(const ResponseGrid& responses, bool fresh, StripSums& strip);

/// The plain loop that the fast one is held to in tests; same sums, same order, in double precision.
void accumulate_products_plain(const ResponseGrid& responses, bool fresh, StripSums& strip);

}  // namespace echoloom
