#pragma once
/// The recordings and images that the gate makes, as scenarios.toml declares them.

#include <filesystem>
#include <string>
#include <vector>

#include "sim/base/settings.h"

namespace echoloom::gate {

struct ImageScenario {
    std::string name;
    std::string recipe;  ///< path or shipped name
    std::vector<Override> settings;
};

struct RecordingScenario {
    std::string name;
    std::string phantom, probe, scan;  ///< paths or shipped names
    std::vector<Override> phantom_settings, probe_settings, scan_settings;
    std::vector<ImageScenario> images;  ///< at least one
};

/// Throws InputError for anything that is missing, unknown or named twice.
std::vector<RecordingScenario> read_scenarios(const std::filesystem::path& file);

}  // namespace echoloom::gate
