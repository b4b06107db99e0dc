#include <algorithm>
#include <fstream>
#include <sstream>

#include "recon/image/image.h"
#include "sim/base/text.h"
#include "sim/recording/groups.h"
#include "sim/recording/recording_reader.h"
#include "tools/cli/commands.h"
#include "tools/cli/facts.h"
#include "tools/cli/output.h"
#include "tools/cli/settings_facts.h"
#include "tools/cli/shelves.h"

namespace echoloom {

namespace {

std::string text_of(const std::filesystem::path& file) {
    std::ifstream stream(file);
    std::ostringstream text;
    text << stream.rdbuf();
    return text.str();
}

const char* noun_of(ShippedKind kind) {
    return std::ranges::find(shelves, kind, &Shelf::kind)->noun;
}

/// Refuses --set of another kind, and --probe for what is no scan.
void refuse_idle_options(const ShowOptions& options, std::optional<ShippedKind> kind, const std::string& what) {
    const bool scan = kind == ShippedKind::scan;
    if (options.probe && !scan) {
        throw InputError({"--probe"}, "goes with a scan, and this is " + what);
    }
    const std::pair<const std::vector<Override>*, bool> settings[] = {
        {&options.phantom_settings, kind == ShippedKind::phantom},
        {&options.probe_settings, kind == ShippedKind::probe || scan},
        {&options.scan_settings, scan},
        {&options.recipe_settings, kind == ShippedKind::recipe}};
    for (const auto& [changes, applies] : settings) {
        if (!changes->empty() && (!applies || options.toml)) {
            const Override& change = changes->front();
            throw InputError({"--set", 0, change.owner + change.key},
                             options.toml ? std::string("--toml prints the file as it is; leave out one of the two")
                                          : "cannot apply: this is " + what);
        }
    }
}

Facts facts_of(const ShowOptions& options, const SettingsFile& settings) {
    const std::string file = settings.file.string();
    switch (settings.kind) {
        case ShippedKind::phantom:
            return phantom_facts(options.file, settings.file, options.phantom_settings);
        case ShippedKind::probe:
            return probe_facts(options.file, load_probe(file, options.probe_settings));
        case ShippedKind::recipe:
            return recipe_facts(options.file, settings.file, options.recipe_settings);
        case ShippedKind::scan:
            break;
    }
    if (!options.probe) {
        throw InputError({"--probe"}, "missing: what the scan " + options.file +
                                          " does depends on the array; give a file or a shipped name, or print the "
                                          "scan's text with --toml");
    }
    const Probe probe = load_probe(*options.probe, options.probe_settings);
    return scan_facts(options.file, load_scan(file, probe, options.scan_settings), probe);
}

void show_settings(const ShowOptions& options, const SettingsFile& settings) {
    refuse_idle_options(options, settings.kind, std::string("a ") + noun_of(settings.kind));
    const std::string file = settings.file.string();
    if (options.toml) {
        const nlohmann::ordered_json all = {
            {"kind", noun_of(settings.kind)}, {"file", file}, {"text", text_of(settings.file)}};
        print(options.json ? all.dump(2) + '\n' : text_of(settings.file));
        return;
    }
    Facts facts = facts_of(options, settings);
    facts.add("file", file + " (echoloom show --toml " + options.file + " prints it)", {{"file", file}});
    print(options.json ? facts.in_json() : facts.in_words());
}

Facts verified_facts(const ShowOptions& options) {
    RecordingReader recording(options.file);
    Facts facts = recording_facts(options.file, recording.info());
    if (options.verify) {
        note("recomputing the digest of " + counted(recording.info().events.size(), "event"), options.quiet);
        if (!recording.verify()) {
            throw InputError({options.file},
                             "samples or geometry do not have the digest that the file carries: it was changed or "
                             "damaged; make it again");
        }
        facts.add("verified", "samples and geometry have this digest", {{"verified", true}});
    }
    return facts;
}

}  // namespace

void run(const ShowOptions& options) {
    if (const auto settings = settings_file(options.file)) {
        if (options.verify) {
            throw InputError({"--verify"}, std::string("recomputes the digest of a recording, and this is a ") +
                                               noun_of(settings->kind));
        }
        show_settings(options, *settings);
        return;
    }
    const std::filesystem::path file(options.file);
    if (!std::filesystem::exists(file) && !file.has_extension()) {
        throw InputError({options.file},
                         "no such file, and nothing of this name is shipped; `echoloom list` lists what is");
    }
    // The recording reader refuses a file of neither kind.
    const bool is_image = format_of(file) == "echoloom image";
    const std::string what = is_image ? "an image" : "a recording";
    refuse_idle_options(options, std::nullopt, what);
    if (options.toml) {
        throw InputError({"--toml"}, "prints the text of a phantom, probe, scan or recipe, and this is " + what);
    }
    if (is_image && options.verify) {
        throw InputError({"--verify"}, "recomputes the digest of a recording, and this is an image");
    }
    const Facts facts = is_image ? image_facts(options.file, read_image(file)) : verified_facts(options);
    print(options.json ? facts.in_json() : facts.in_words());
}

}  // namespace echoloom
