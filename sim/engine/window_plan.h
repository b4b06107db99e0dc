#pragma once
/// How one cell's echoes are computed: the integer reference delays, the short window around them, the frequency bins
/// and the quadrature points, all chosen from the stated error.

#include <array>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "sim/engine/cells.h"
#include "sim/engine/elements.h"
#include "sim/engine/face_sampling.h"
#include "sim/engine/propagation.h"
#include "sim/engine/quadrature.h"

namespace echoloom {

/// What is the same for every cell of a run.
struct EngineContext {
    ElementArrays elements;
    std::vector<double> fault_gain;     ///< [element]
    std::vector<double> fault_delay_s;  ///< [element]
    Medium medium;
    PulseBand band;
    double center_Hz = 0.0;
    double sampling_rate_Hz = 0.0;
    double tolerance = 0.0;
    EchoTable echoes;
    std::vector<GaussLegendre> rules;  ///< [points]; rules[0] is unused
    bool straight_row = false;         ///< virtual elements can stand for the array's
    std::optional<Arc> arc;            ///< so they can on an arc
};

/// Parts of the probe's pulse that are computed one after the other: the whole in a lossless medium, else the two sides
/// of a split.
std::vector<PulseBand> pulse_bands(const Probe& probe, const Medium& medium);

/// The two sides of a split, the upper part first.
std::array<PulseBand, 2> split_pulse(const Probe& probe);

EngineContext engine_context(const Probe& probe, const PulseBand& band, const Medium& medium, double sampling_rate_Hz,
                             double longest_path_m, double tolerance);

struct WindowPlan {
    std::vector<int> reference;  ///< [element] samples; the echo on pair (i, j) starts near reference[i] + reference[j]
    std::vector<double> reference_s;  ///< [element] the same in seconds
    std::vector<double> residual_s;   ///< [element] delay still to be applied, after virtual elements; else empty
    int before = 0;                   ///< the window starts this many samples earlier
    int core_before = 0;              ///< the same without the slow tails
    int core_after = 0;               ///< and how far the echo itself reaches after its reference
    int length = 0;                   ///< samples, of a length that transforms fast
    int needed = 0;                   ///< samples of it that are needed
    EchoTable::Band band;
    int first_bin = 0;
    int bins = 0;
    FaceSampling faces;
    double wavenumber = 0.0;  ///< of the highest frequency that counts
    double bin_Hz = 0.0;
    double linear_attenuation = 0.0;       ///< Np/m/Hz: the part of the path constant that is proportional to frequency
    std::vector<double> reference_path_m;  ///< [element] path whose path constant is applied once per element
};

/// Shortest length of at least `samples` that transforms fast.
int window_length(int samples);

/// The longest window that holds an echo's core, for cells of this size; slow tails may make a window longer.
int longest_window(const EngineContext& context, double cell_size_m);

/// Makes a window longer at its end.
void widen(const EngineContext& context, int more_samples, WindowPlan& plan);

WindowPlan plan_window(const EngineContext& context, std::span<const Scatterer> cell);

}  // namespace echoloom
