#pragma once
/// What a recording says of itself: everything but the samples. Acquired data fill the same struct.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/base/medium.h"
#include "sim/base/truth.h"

namespace echoloom {

struct RecordingSource {
    std::string phantom;  ///< exact TOML texts; empty for acquired data
    std::string probe;
    std::string scan;
    std::uint64_t seed = 0;
};

struct RecordingInfo {
    Probe probe;
    double sampling_rate_Hz = 0.0;
    std::size_t samples = 0;   ///< per channel and event
    std::size_t channels = 0;  ///< per event
    std::vector<TransmitEvent> events;
    std::optional<HeadMotion> head;      ///< of a mechanically swept probe
    std::optional<double> scan_depth_m;  ///< that the scan was made for: the round trip to it is one event's time
    Medium medium;
    Truth truth;
    RecordingSource source;
    std::string content_digest;   ///< "sha256:..." of samples and geometry; filled in by reader and writer
    std::string program_version;  ///< of the program that wrote it
};

/// What a recording of a scan says of itself before there is a phantom: probe, sampling, events and
/// head, and the sound speed the scan assumes.
RecordingInfo planned_recording(const Probe& probe, const Scan& scan);

}  // namespace echoloom
