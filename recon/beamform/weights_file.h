#pragma once
/// Apodization weights from a text file.

#include <filesystem>
#include <vector>

#include "sim/base/error.h"

namespace echoloom {

/// One finite number per line; blank lines and lines that begin with # are skipped. Throws InputError: at `asked_by`
/// where the file cannot be read, at the line of the file where a weight is not a number.
std::vector<double> read_weights_file(const std::filesystem::path& path, const Place& asked_by);

}  // namespace echoloom
