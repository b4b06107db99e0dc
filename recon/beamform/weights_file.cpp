#include "recon/beamform/weights_file.h"

#include <charconv>
#include <cmath>
#include <fstream>
#include <string>
#include <string_view>

namespace echoloom {
namespace {

std::string_view trimmed(std::string_view text) {
    const auto first = text.find_first_not_of(" \t\r");
    if (first == std::string_view::npos) {
        return {};
    }
    return text.substr(first, text.find_last_not_of(" \t\r") - first + 1);
}

}  // namespace

std::vector<double> read_weights_file(const std::filesystem::path& path, const Place& asked_by) {
    std::ifstream file(path);
    if (!file || std::filesystem::is_directory(path)) {
        throw InputError(asked_by, "cannot read '" + path.string() +
                                       "'; give the path of a text file, relative to the recipe, one weight per line");
    }
    std::vector<double> weights;
    std::string line;
    for (int number = 1; std::getline(file, line); ++number) {
        const std::string_view word = trimmed(line);
        if (word.empty() || word.front() == '#') {
            continue;
        }
        double weight = 0.0;
        const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), weight);
        if (error != std::errc{} || end != word.data() + word.size() || !std::isfinite(weight)) {
            throw InputError({path.string(), number, {}},
                             "'" + std::string(word.substr(0, 40)) + "' is not a weight; write one number per line");
        }
        weights.push_back(weight);
    }
    return weights;
}

}  // namespace echoloom
