#pragma once
/// A measured two-way impulse response from a text file.

#include <filesystem>

#include "sim/array/pulse.h"

namespace echoloom {

/// Two columns, time in microseconds and amplitude, equally spaced in time; lines that start with # are comments.
/// Throws InputError with file and line.
SampledPulse read_impulse_response(const std::filesystem::path& path);

}  // namespace echoloom
