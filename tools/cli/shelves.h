#pragma once
/// The four kinds of settings files that come with the program, and which of them a name or a file is.

#include <filesystem>
#include <optional>
#include <string>

#include "sim/base/shipped.h"

namespace echoloom {

struct Shelf {
    ShippedKind kind;
    const char* noun;
    const char* plural;
};
inline constexpr Shelf shelves[] = {{ShippedKind::phantom, "phantom", "phantoms"},
                                    {ShippedKind::probe, "probe", "probes"},
                                    {ShippedKind::scan, "scan", "scans"},
                                    {ShippedKind::recipe, "recipe", "recipes"}};

struct SettingsFile {
    ShippedKind kind;
    std::filesystem::path file;
};

/// What a shipped name or a .toml file holds; nothing for any other word. Throws InputError for a name that several
/// kinds share, and for a TOML file that is none of the four.
std::optional<SettingsFile> settings_file(const std::string& path_or_name);

}  // namespace echoloom
