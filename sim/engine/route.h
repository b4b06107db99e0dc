#pragma once
/// Which way a scan's echoes are computed, by cost.

#include <string>

#include "sim/array/scan.h"
#include "sim/engine/window_plan.h"

namespace echoloom {

enum class Route {
    matrix,  ///< every pair of elements once, events as sums of rows
    direct,  ///< each event's field at each scatterer, then its echo on each receiver
};

/// Costs in seconds of one AVX-512 core (cell_cost.h): only their ratio counts.
struct RouteCosts {
    double matrix_s = 0.0;
    double direct_s = 0.0;
    Route cheaper() const { return direct_s < 0.8 * matrix_s ? Route::direct : Route::matrix; }
    /// Which way, and why, in a line.
    std::string words(Route taken) const;
};

/// What the matrix costs beside its cells: rows of samples that are cleared, transformed and summed. Quadratic in
/// elements and linear in the record; events add only their sums.
double matrix_fixed_cost_ns(const Scan& scan, std::size_t pairs, std::size_t samples, double bins, bool plain_rows);

/// The direct route: linear in scatterers and in events; elements' responses are formed anew for each of `blocks`.
double direct_cost_ns(const EngineContext& context, const Box& bounds, double scatterers, double cell_size_m,
                      const Scan& scan, double blocks);

}  // namespace echoloom
