#pragma once
/// An array and its scan, and what frame rate they allow.

#include <string>

#include "tools/cli/facts.h"

namespace echoloom {

void add_array(Facts& facts, const Probe& probe, const Medium& medium);
void add_array_and_scan(Facts& facts, const RecordingInfo& info);
/// Frame rate, round trip and, for a rotating head, its sweeps.
void add_timing(Facts& facts, const RecordingInfo& info);

/// "at most 20.052 Hz: 1540 m/s / (2 x 150 mm x 128 lines x 2 zones), which is c / (2 depth lines zones)".
std::string frame_rate_formula(const RecordingInfo& info);

}  // namespace echoloom
