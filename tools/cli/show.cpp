#include <algorithm>
#include <array>
#include <fstream>
#include <iomanip>
#include <optional>
#include <sstream>

#include "recon/image/image.h"
#include "sim/base/shipped.h"
#include "sim/recording/groups.h"
#include "sim/recording/recording_reader.h"
#include "tools/cli/commands.h"
#include "tools/cli/facts.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

/// The first sentence of the comment that a shipped file begins with says what it is.
std::string first_sentence(const std::filesystem::path& file) {
    std::ifstream stream(file);
    std::string text;
    for (std::string line; std::getline(stream, line) && line.starts_with("# ");) {
        text.append(text.empty() ? "" : " ").append(line, 2);
    }
    text += ' ';
    return text.substr(0, text.find(". "));
}

void list_shipped(bool json) {
    constexpr int column = 24;
    const std::pair<ShippedKind, const char*> shelves[] = {{ShippedKind::phantom, "phantoms"},
                                                           {ShippedKind::probe, "probes"},
                                                           {ShippedKind::scan, "scans"},
                                                           {ShippedKind::recipe, "recipes"}};
    std::ostringstream text;
    auto listed = nlohmann::ordered_json::object();
    for (const auto& [kind, noun] : shelves) {
        text << (listed.empty() ? "" : "\n") << noun << ", in " << shipped_folder(kind).string() << '\n';
        listed[noun] = nlohmann::ordered_json::object();
        for (const std::string& name : shipped_names(kind)) {
            const std::string what = first_sentence(find_shipped(kind, name));
            text << "  " << std::left << std::setw(column) << name << what << '\n';
            listed[noun][name] = what;
        }
    }
    print(json ? listed.dump(2) + '\n' : text.str());
}

Facts verified_facts(const std::filesystem::path& file, bool verify) {
    RecordingReader recording(file);
    Facts facts = recording_facts(file.string(), recording.info());
    if (verify) {
        if (!recording.verify()) {
            throw InputError({file.string()},
                             "samples or geometry do not have the digest that the file carries: it was changed or "
                             "damaged; make it again");
        }
        facts.add("verified", "samples and geometry have this digest", {{"verified", true}});
    }
    return facts;
}

/// A shipped phantom or recipe explains itself: its keys are in its text. Nothing for any other name.
std::optional<std::filesystem::path> explained_file(const ShowOptions& options) {
    const std::string name = options.file.string();
    if (std::filesystem::exists(options.file)) {
        return std::nullopt;
    }
    for (const ShippedKind kind : {ShippedKind::phantom, ShippedKind::recipe}) {
        if (std::ranges::count(shipped_names(kind), name) > 0) {
            return find_shipped(kind, name);
        }
    }
    return std::nullopt;
}

std::string text_of(const std::filesystem::path& file) {
    std::ifstream stream(file);
    std::ostringstream text;
    text << stream.rdbuf();
    return text.str();
}

bool is_shipped(ShippedKind kind, const std::string& name) {
    return std::ranges::count(shipped_names(kind), name) > 0;
}

/// A scan's settings have a scan's kind.
bool is_probe_file(const std::filesystem::path& file) {
    const std::string kind = Settings::from_file(file).text_or("kind", "");
    constexpr std::array kinds{"linear", "curved", "phased", "rows", "annular"};
    return std::ranges::count(kinds, kind) > 0;
}

/// What a settings file, or a shipped one's name, describes; empty for any other file.
std::optional<Facts> settings_facts(const ShowOptions& options) {
    const std::string name = options.file.string();
    const bool is_toml = options.file.extension() == ".toml";
    const bool on_shelf = !std::filesystem::exists(options.file) && !is_toml;
    if (!is_toml && !on_shelf) {
        return std::nullopt;
    }
    if (options.probe) {
        const Probe probe = load_probe(*options.probe, options.probe_settings);
        return scan_facts(name, load_scan(name, probe, options.scan_settings), probe);
    }
    if (on_shelf ? is_shipped(ShippedKind::probe, name) : is_probe_file(options.file)) {
        return probe_facts(name, load_probe(name, options.probe_settings));
    }
    if (on_shelf ? is_shipped(ShippedKind::scan, name) : Settings::from_file(options.file).has("depth_mm")) {
        throw InputError({"--probe"}, "missing: what the scan " + name +
                                          " does depends on the array; give a file or a shipped name");
    }
    if (on_shelf) {
        return std::nullopt;
    }
    throw InputError({name}, "neither a probe nor a scan; of settings, show explains these two");
}

void refuse_idle_options(const ShowOptions& options) {
    if (options.probe) {
        throw InputError({"--probe"}, "goes with a scan, and this is none");
    }
    if (!options.probe_settings.empty() || !options.scan_settings.empty()) {
        throw InputError({"--set"}, "changes a probe or a scan, and this is neither");
    }
}

}  // namespace

void run(const ShowOptions& options) {
    if (options.file == "shipped") {
        list_shipped(options.json);
        return;
    }
    if (const auto file = explained_file(options)) {
        refuse_idle_options(options);
        const auto text = nlohmann::ordered_json{{"file", file->string()}, {"text", text_of(*file)}};
        print(options.json ? text.dump(2) + '\n' : text_of(*file));
        return;
    }
    if (const std::optional<Facts> facts = settings_facts(options)) {
        print(options.json ? facts->in_json() : facts->in_words());
        return;
    }
    if (!std::filesystem::exists(options.file) && !options.file.has_extension()) {
        throw InputError({options.file.string()},
                         "no such file; give a recording, an image, or what is shipped (`echoloom show shipped` lists "
                         "what comes with the program)");
    }
    refuse_idle_options(options);
    // A file of neither kind is refused in the recording reader's words.
    const bool is_image = format_of(options.file) == "echoloom image";
    if (is_image && options.verify) {
        throw InputError({"--verify"}, "recomputes the digest of a recording, and this is an image");
    }
    const Facts facts = is_image ? image_facts(options.file.string(), read_image(options.file))
                                 : verified_facts(options.file, options.verify);
    print(options.json ? facts.in_json() : facts.in_words());
}

}  // namespace echoloom
