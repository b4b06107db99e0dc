#include "tests/gate/scenario.h"

#include <set>
#include <sstream>

namespace echoloom::gate {

namespace {

std::vector<Override> overrides(Settings& settings) {
    std::vector<Override> all;
    std::istringstream words(settings.text_or("set", ""));
    for (std::string word; words >> word;) {
        const std::size_t equals = word.find('=');
        if (equals == std::string::npos) {
            settings.fail("set", "'" + word + "' is not a setting; write KEY=VALUE, without a space in it");
        }
        all.push_back({word.substr(0, equals), word.substr(equals + 1)});
    }
    return all;
}

/// "./phantoms/points.toml" is meant from where the scenarios are.
std::string found_from(const std::filesystem::path& folder, const std::string& name) {
    return name.find('/') == std::string::npos ? name : (folder / name).lexically_normal().string();
}

/// A name becomes a file's.
std::string file_name(Settings& settings, std::set<std::string>& taken) {
    std::string name = settings.text("name");
    if (name.empty() || name.find_first_not_of("abcdefghijklmnopqrstuvwxyz0123456789_") != std::string::npos) {
        settings.fail("name", "is '" + name + "'; use small letters, digits and _");
    }
    if (!taken.insert(name).second) {
        settings.fail("name", "'" + name + "' is taken; give another");
    }
    return name;
}

RecordingScenario read_recording(Settings& settings, const std::filesystem::path& folder,
                                 std::set<std::string>& taken) {
    RecordingScenario scenario;
    scenario.name = file_name(settings, taken);
    scenario.phantom = found_from(folder, settings.text("phantom"));
    scenario.probe = found_from(folder, settings.text("probe"));
    scenario.scan = found_from(folder, settings.text("scan"));
    const std::pair<std::string, std::vector<Override>*> owners[] = {{"phantom.", &scenario.phantom_settings},
                                                                     {"probe.", &scenario.probe_settings},
                                                                     {"scan.", &scenario.scan_settings}};
    for (const Override& change : overrides(settings)) {
        bool owned = false;
        for (const auto& [prefix, all] : owners) {
            if (change.key.starts_with(prefix)) {
                all->push_back({change.key.substr(prefix.size()), change.value, prefix});
                owned = true;
            }
        }
        if (!owned) {
            settings.fail("set", "'" + change.key + "' must begin with phantom., probe. or scan.");
        }
    }
    std::set<std::string> images;
    for (Settings& entry : settings.tables("image")) {
        scenario.images.push_back(
            {file_name(entry, images), found_from(folder, entry.text("recipe")), overrides(entry)});
    }
    if (scenario.images.empty()) {
        settings.fail("name", "'" + scenario.name + "' has no image; write [[recording.image]]");
    }
    return scenario;
}

}  // namespace

std::vector<RecordingScenario> read_scenarios(const std::filesystem::path& file) {
    Settings settings = Settings::from_file(file);
    std::vector<RecordingScenario> scenarios;
    std::set<std::string> taken;
    for (Settings& entry : settings.tables("recording")) {
        scenarios.push_back(read_recording(entry, file.parent_path(), taken));
    }
    settings.finish();
    return scenarios;
}

}  // namespace echoloom::gate
