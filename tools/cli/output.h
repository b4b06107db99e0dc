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

/// Throws InputError where a file is a folder, or is already there and may not be replaced; `option` is the one that
/// would give it another name.
void refuse_existing(std::span<const std::filesystem::path> files, bool force, const std::string& option);

/// Throws MachineError where the folder of `file` cannot be made, or its disk has less room than `bytes`.
void refuse_full_disk(const std::filesystem::path& file, double bytes);

/// What every report says: teaching and research only.
std::string_view caution_words();

}  // namespace echoloom
