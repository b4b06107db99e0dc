#pragma once
/// Echoes of every needed pair of elements from all scatterers of a phantom: cells in fixed order, local windows.

#include <functional>

#include "sim/engine/pair_record.h"
#include "sim/engine/window_plan.h"

namespace echoloom {

struct FullMatrixWork {
    int threads = 1;
    std::size_t responses_bytes = 0;  ///< room for the responses of the cells that are in work together
    std::size_t cells_per_block = 0;  ///< planned together, whatever fits in work at a time; 0: as cells_together()
    std::size_t scatterers_in_memory = 2'000'000;
    std::function<void(std::size_t scatterers)> progress;  ///< called now and then on the calling thread

    /// Enough to share out, few enough that their plans take little memory.
    std::size_t cells_together() const;
};

/// Adds every scatterer's echoes to `record`, whose pairs and sample range set what is wanted. The result does not
/// depend on the work settings.
void fill_full_matrix(const Phantom& phantom, const EngineContext& context, const CellGrid& grid,
                      const FullMatrixWork& work, PairRecord& record);

/// Scatterers whose responses are kept together; larger cells are added in parts of this many.
inline constexpr std::size_t scatterers_per_part = 64;

}  // namespace echoloom
