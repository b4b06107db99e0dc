#pragma once
/// Where shipped phantoms, probes, scans and recipes are found.

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace echoloom {

enum class ShippedKind { phantom, probe, scan, recipe };

/// A path is taken as it is (it has a slash or ends in .toml); any other word names a shipped file. Throws InputError
/// that lists what is shipped and suggests the nearest name.
std::filesystem::path find_shipped(ShippedKind kind, std::string_view path_or_name);

/// Where files of a kind lie, ready to be copied and changed.
std::filesystem::path shipped_folder(ShippedKind kind);

/// At least one: throws MachineError where none is found, since some of every kind come with the program.
std::vector<std::string> shipped_names(ShippedKind kind);

}  // namespace echoloom
