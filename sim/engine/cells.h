#pragma once
/// Scatterers sorted into cells small enough that the echo of a whole cell on any pair of elements lives in a short
/// window.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "phantoms/phantom.h"
#include "sim/engine/elements.h"

namespace echoloom {

/// The grid of cells. It depends on the phantom and the wavelength alone, so that results do not depend on how work is
/// divided. Along elevation cells are bands of |y| of equal added path y^2 / (2 z), both signs together.
class CellGrid {
  public:
    CellGrid(const Box& bounds, double cell_size_m);

    struct Index {
        std::int64_t layer = 0;
        std::int64_t column = 0;
        std::int64_t band = 0;
        auto operator<=>(const Index&) const = default;
    };
    Index index(const Scatterer& scatterer) const;

    /// A stack holds the cells of one layer and column, all bands of elevation; stacks are numbered in the order of
    /// cells.
    std::size_t stacks() const { return static_cast<std::size_t>(layers_ * columns_); }
    std::size_t stack(const Index& index) const {
        return static_cast<std::size_t>(index.layer * columns_ + index.column);
    }
    /// A box that holds all scatterers of some stacks, and more: the exact test is their index.
    Box around(std::size_t first_stack, std::size_t last_stack) const;

  private:
    double layer_top_m(std::int64_t layer) const { return top_m_ + static_cast<double>(layer) * size_m_; }
    double band_path_m() const { return size_m_ / 4.0; }
    double size_m_;
    double top_m_;
    double left_m_;
    std::int64_t layers_;
    std::int64_t columns_;
};

/// One cell's scatterers: a run in the sorted list.
struct Cell {
    CellGrid::Index index;
    std::size_t first = 0;
    std::size_t count = 0;
};

/// The scatterers of some whole stacks, sorted by cell (and by the phantom's order inside a cell).
struct CellBlock {
    std::vector<Scatterer> scatterers;
    std::vector<Cell> cells;
};

/// `at_most` scatterers are expected, so that no more room than theirs is taken.
CellBlock collect_cells(const Phantom& phantom, const CellGrid& grid, std::size_t first_stack, std::size_t last_stack,
                        std::size_t at_most);

/// The box of |y| that, with its mirror image, holds the scatterers tightly.
Box upper_box(std::span<const Scatterer> scatterers);

/// Bounds of a cell's travel times and path lengths to one element, over its scatterers and the element's face, lens
/// included.
struct PathBounds {
    double min_s = 0.0;
    double max_s = 0.0;
    double min_m = 0.0;
    double max_m = 0.0;
};

PathBounds path_bounds(const ElementArrays& elements, std::size_t element, std::span<const Scatterer> cell,
                       double sound_speed_m_s);

}  // namespace echoloom
