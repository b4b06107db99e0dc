#include "recon/measure/csv.h"

#include <array>
#include <cstdio>

namespace echoloom {

std::string csv_word(std::string_view text) {
    std::string result = "\"";
    for (const char c : text) {
        if (c == '"') result += '"';
        result += c;
    }
    result += '"';
    return result;
}

std::string csv_number(std::optional<double> value) {
    if (!value) return {};
    std::array<char, 64> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%.7g", *value);
    return buffer.data();
}

}  // namespace echoloom
