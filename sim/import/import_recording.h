#pragma once
/// From the files of an acquisition to a recording, and what was noticed meanwhile.

#include <filesystem>
#include <optional>

#include "sim/import/arrival.h"
#include "sim/import/sample_checks.h"

namespace echoloom {

struct ImportReport {
    RecordingInfo info;
    std::string samples_name;  ///< file, and variable where there is one
    NumberType type = NumberType::float32;
    SampleChecks checks;
    std::optional<DelayFit> fit;
    std::vector<Arrival> arrivals;  ///< [point]
    std::string digest;             ///< empty where nothing was written
};

/// Writes `output`, or nothing where there is none. Throws InputError, also for samples that are not finite.
ImportReport import_recording(const Acquisition& acquisition, const std::optional<std::filesystem::path>& output,
                              bool quiet);

}  // namespace echoloom
