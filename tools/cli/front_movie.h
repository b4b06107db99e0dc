#pragma once
/// The pressure of a front in the image plane, instant by instant.

#include <algorithm>
#include <vector>

#include "recon/image/page_layout.h"
#include "tools/cli/wavefronts.h"

namespace echoloom {

/// Pressure on a grid: [column][row][instant].
struct Movie {
    Extent extent;
    std::size_t columns = 0, rows = 0;
    double step_m = 0.0;
    std::vector<double> instants_s;
    std::vector<float> pressure;
    double highest = 0.0;  ///< beyond two wavelengths from the face
    float at(std::ptrdiff_t column, std::ptrdiff_t row, std::size_t instant) const {
        const auto c =
            static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(column, 0, static_cast<std::ptrdiff_t>(columns) - 1));
        const auto r =
            static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(row, 0, static_cast<std::ptrdiff_t>(rows) - 1));
        return pressure[(c * rows + r) * instants_s.size() + instant];
    }
};

/// The whole extent at all instants, on every thread.
Movie compute_movie(const Front& front, const Extent& extent, const std::vector<double>& instants_s, bool quiet);

/// Between the points of the grid, smoothly.
double pressure_at(const Movie& movie, double column, double row, std::size_t instant);

}  // namespace echoloom
