#include <algorithm>
#include <fstream>

#include "sim/base/shipped.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"
#include "tools/cli/shelves.h"

namespace echoloom {

namespace {

constexpr std::size_t max_columns = 120;

/// The first sentence of the comment that a shipped file begins with: what it is.
std::string first_sentence(const std::filesystem::path& file) {
    std::ifstream stream(file);
    std::string text;
    for (std::string line; std::getline(stream, line) && line.starts_with("# ");) {
        text.append(text.empty() ? "" : " ").append(line, 2);
    }
    text += ' ';
    return text.substr(0, text.find(". "));
}

/// Cut between words, with dots for the rest.
std::string shortened(const std::string& text, std::size_t max) {
    if (text.size() <= max) {
        return text;
    }
    const std::string part = text.substr(0, max - 3);
    return part.substr(0, part.rfind(' ')) + " ...";
}

}  // namespace

void run(const ListOptions& options) {
    struct Entry {
        std::string name, what;
    };
    std::string text;
    auto listed = nlohmann::ordered_json::object();
    for (const Shelf& shelf : shelves) {
        if (!options.shelf.empty() && options.shelf != shelf.plural) {
            continue;
        }
        std::vector<Entry> entries;
        std::size_t widest = 0;
        for (const std::string& name : shipped_names(shelf.kind)) {
            entries.push_back({name, first_sentence(find_shipped(shelf.kind, name))});
            widest = std::max(widest, name.size());
        }
        text += (text.empty() ? "" : "\n") + std::string(shelf.plural) + ", in " + shipped_folder(shelf.kind).string() +
                '\n';
        listed[shelf.plural] = nlohmann::ordered_json::object();
        for (const auto& [name, what] : entries) {
            const std::string start = "  " + name + std::string(widest - name.size() + 2, ' ');
            text += start + shortened(what, max_columns - start.size()) + '\n';
            listed[shelf.plural][name] = what;
        }
    }
    print(options.json ? listed.dump(2) + '\n' : text);
}

}  // namespace echoloom
