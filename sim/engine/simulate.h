#pragma once
/// The simulator's front door: what a run will cost, and the run itself.

#include <cstddef>
#include <filesystem>
#include <functional>
#include <optional>
#include <span>
#include <string>

#include "phantoms/phantom.h"
#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/engine/route.h"

namespace echoloom {

struct EngineSettings {
    double tolerance = 3e-4;          ///< relative L2 error of each channel's RF that the engine aims at
    int threads = 0;                  ///< 0: every processor
    std::size_t cells_per_block = 0;  ///< planned together; 0: 128; never changes the result
    double memory_limit_bytes = 2147483648.0;
    bool quiet = false;                         ///< no progress
    std::optional<Route> route = std::nullopt;  ///< none: the cheaper one; for tests
};

/// What a run will need, known before it starts.
struct Estimate {
    double memory_bytes = 0.0;
    double file_bytes = 0.0;
    double candidate_scatterers = 0.0;
    std::string words;  ///< one line for a person
    Route route = Route::matrix;
    RouteCosts route_costs;
    std::string route_text;  ///< which route and why, a line; empty where there is one way only
};

Estimate estimate(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings);

/// Receives the samples [channel, sample] of each event once, in event order.
using EventSink = std::function<void(std::size_t event, std::span<const float> samples)>;

/// Noise-free echoes of every event. Samples are in m^3: strength (m) times the two one-way responses
/// G (m) of DEVELOPERS.md "The physics", for a pulse of unit envelope. Throws MachineError where the memory needed
/// exceeds the limit, with the figure, before it is allocated.
void simulate(const Phantom& phantom, const Probe& probe, const Scan& scan, const EngineSettings& settings,
              const EventSink& sink);

/// The same into a recording file, then noise and quantization where the scan asks for them. Returns the content
/// digest.
std::string simulate_to_file(const Phantom& phantom, const Probe& probe, const Scan& scan,
                             const EngineSettings& settings, const std::filesystem::path& path);

}  // namespace echoloom
