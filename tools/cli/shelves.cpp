#include "tools/cli/shelves.h"

#include <algorithm>
#include <array>
#include <string_view>
#include <vector>

#include "sim/base/settings.h"

namespace echoloom {

namespace {

/// By keys that only this kind has.
ShippedKind kind_of(const std::filesystem::path& file) {
    const Settings settings = Settings::from_file(file);
    const auto has_one_of = [&](std::initializer_list<std::string_view> keys) {
        return std::ranges::any_of(keys, [&](std::string_view key) { return settings.has(key); });
    };
    if (has_one_of({"samples"})) {
        throw InputError({file.string()},
                         "describes acquired samples; echoloom import " + file.string() + " --dry-run reports on them");
    }
    if (has_one_of({"center_MHz", "bandwidth_percent", "elements", "pitch_mm", "ring_edges_mm"})) {
        return ShippedKind::probe;
    }
    if (has_one_of({"sampling_MHz", "depth_mm", "angles_deg", "focus_depth_mm"})) {
        return ShippedKind::scan;
    }
    if (has_one_of({"medium", "point", "wire", "wire_group", "speckle", "layer", "sheet"})) {
        return ShippedKind::phantom;
    }
    if (has_one_of({"receive", "transmit", "grid", "picture", "interpolation", "high_pass_MHz", "keep_rf"})) {
        return ShippedKind::recipe;
    }
    throw InputError({file.string()},
                     "holds no phantom, probe, scan or recipe; give one of these, a recording or an "
                     "image");
}

}  // namespace

std::optional<SettingsFile> settings_file(const std::string& path_or_name) {
    const std::filesystem::path path(path_or_name);
    if (path.extension() == ".toml") {
        return SettingsFile{kind_of(path), path};
    }
    if (std::filesystem::exists(path)) {
        return std::nullopt;
    }
    std::vector<SettingsFile> found;
    std::string kinds, files;
    for (const Shelf& shelf : shelves) {
        if (std::ranges::count(shipped_names(shelf.kind), path_or_name) > 0) {
            found.push_back({shelf.kind, find_shipped(shelf.kind, path_or_name)});
            kinds += (kinds.empty() ? "a " : " and a ") + std::string(shelf.noun);
            files += (files.empty() ? "" : " or ") + found.back().file.string();
        }
    }
    if (found.size() > 1) {
        throw InputError({path_or_name}, "is the name of " + kinds + "; give the file of one, " + files);
    }
    return found.empty() ? std::nullopt : std::optional(found.front());
}

}  // namespace echoloom
