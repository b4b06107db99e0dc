#pragma once
/// The kernels of event_route.cpp.

#include <cstddef>
#include <vector>

#include "sim/engine/response.h"

namespace echoloom {

/// What every element contributes to a transmitted field: [bin][element], its factor times
/// weight exp(-j 2 pi f late), from `first` to `last` (whole groups; weight 0 for those that are silent).
struct FiringPhases {
    const float* factor_real;  ///< [bin][padded]
    const float* factor_imaginary;
    const double* late_s;  ///< [element]
    const float* weight;
    std::size_t first;
    std::size_t last;
    std::size_t padded;
    double first_Hz;
    double step_Hz;
    std::size_t bins;
    float* real;  ///< [bin][padded]
    float* imaginary;
};
void fill_firing_phases(const FiringPhases& phases);

/// Adds to sums [bin][padded], from `receive_first` to `receive_last`, the echoes of scatterers of one event.
struct EventSum {
    const ResponseGrid* responses;
    const FiringPhases* phases;
    std::size_t receive_first;
    std::size_t receive_last;
    bool fresh;
    float* real;
    float* imaginary;
};
void add_event_sums(const EventSum& sum);

}  // namespace echoloom
