#pragma once
/// A small recording with a different number in every place, and what to compare of one that was read back.

#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "sim/recording/recording_reader.h"

namespace echoloom::recording_tests {

struct Sample {
    RecordingInfo info;
    std::vector<std::vector<float>> events;  ///< [event][channel * samples]
};

/// 3 events (one of each kind, which no scan mixes, but a file may), 4 channels, 8 elements.
Sample small_sample();

/// The same with what only some arrays have: an arc; two rows and a diverging wave; rings on a rotating head.
Sample curved_sample();
Sample rows_sample();
Sample swept_sample();

/// Writes event by event in order; returns the digest.
std::string write(const Sample& sample, const std::filesystem::path& path);

/// Every bit of what a file gave, as one digest: equal where and only where all values are.
std::string fingerprint(const RecordingInfo& info, std::span<const std::vector<float>> events);
std::string fingerprint(const std::filesystem::path& path);

}  // namespace echoloom::recording_tests
