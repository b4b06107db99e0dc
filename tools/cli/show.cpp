#include <fstream>
#include <iomanip>
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
        text << (listed.empty() ? "" : "\n") << noun << '\n';
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

}  // namespace

void run(const ShowOptions& options) {
    if (options.file == "shipped") {
        list_shipped(options.json);
        return;
    }
    if (!std::filesystem::exists(options.file) && !options.file.has_extension()) {
        throw InputError({options.file.string()},
                         "no such file; give a recording or an image (`echoloom show shipped` lists what comes with "
                         "the program)");
    }
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
