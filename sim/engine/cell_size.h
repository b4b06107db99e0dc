#pragma once
/// How large cells should be.

#include "sim/engine/window_plan.h"

namespace echoloom {

/// The cell size with the least work for `scatterers` spread over `bounds` and received by `pairs` of elements: small
/// cells mean many transforms, large ones long windows, many bins and many virtual elements. Depends on the inputs
/// alone. `cost` becomes the work of all cells (cell_cost.h).
double choose_cell_size_m(const EngineContext& context, const Box& bounds, double scatterers, std::size_t pairs,
                          double& cost);

}  // namespace echoloom
