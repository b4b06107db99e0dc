#pragma once
/// Where words go: results to standard output, messages to standard error; and what is checked before long work.

#include <filesystem>
#include <span>
#include <string>
#include <string_view>

namespace echoloom {

/// Prints a result. Throws MachineError where standard output does not take it.
void print(std::string_view text);

/// Prints a line for the person who waits, unless `quiet`.
void note(const std::string& line, bool quiet = false);

/// Throws InputError where a file is already there and may not be replaced.
void refuse_existing(std::span<const std::filesystem::path> files, bool force);

/// Throws MachineError where the disk that will hold `file` has less room than `bytes`.
void refuse_full_disk(const std::filesystem::path& file, double bytes);

/// What every report says: teaching and research only.
std::string_view caution_words();

}  // namespace echoloom
