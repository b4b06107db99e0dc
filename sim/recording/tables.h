#pragma once
/// A recording's description as the flat arrays its file holds: one table per dataset.

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include "sim/base/digest.h"
#include "sim/recording/hdf5_writer.h"
#include "sim/recording/recording.h"

namespace echoloom {

struct Table {
    std::string path;  ///< below the group the description lies in: "/probe/center_Hz"
    Hdf5Label label;
    Shape shape;
    std::variant<std::vector<double>, std::vector<std::int32_t>, std::vector<std::string>> values;
};

/// What a reconstruction depends on, in the order in which the digest takes it.
std::vector<Table> geometry_tables(const RecordingInfo& info);
/// What it does not: names, ground truth, sources, a measured pulse.
std::vector<Table> background_tables(const RecordingInfo& info);

/// "sha256:" and the digest of the samples already taken in by `samples`, followed by the geometry tables: numbers as
/// they lie in the file (little-endian float64 or int32), each text followed by one NUL byte.
std::string content_digest(Sha256 samples, const RecordingInfo& info);

}  // namespace echoloom
