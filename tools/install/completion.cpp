#include "tools/install/completion.h"

#include <algorithm>
#include <array>
#include <sstream>

namespace echoloom {

namespace {

constexpr std::array kinds{"phantom", "probe", "scan", "recipe"};

/// "--probe" and "PROBE" are both called probe.
std::string called(const OptionHelp& option) {
    std::string name = option.names.empty() ? option.place : option.names.back();
    name.erase(0, name.find_first_not_of('-'));
    std::ranges::transform(name, name.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return name;
}

std::vector<std::string> kinds_of(const OptionHelp& option) {
    std::vector<std::string> all;
    for (const std::string kind : kinds) {
        if (kind == called(option)) {
            return {kind + 's'};
        }
        all.push_back(kind + 's');
    }
    return all;
}

}  // namespace

Completions completions(const OptionHelp& option) {
    Completions result;
    if (!option.choices.empty()) {
        result.words = option.choices;
        return result;
    }
    std::istringstream types(option.type);
    for (std::string type; std::getline(types, type, '|');) {
        if (type == "NAME") {
            result.shipped = kinds_of(option);
        } else if (type == "FOLDER") {
            result.folders = true;
        } else if (type == "FILE") {
            result.files = true;
        } else if (type.starts_with("FILE.")) {
            result.endings.push_back(type.substr(5));
        }
    }
    if (result.shipped.size() == 1 && result.files) {
        result.files = false;
        result.endings.emplace_back("toml");
    }
    return result;
}

std::string names_command(const std::string& program, const std::string& kind) {
    return program + " list " + kind + R"( 2>/dev/null | sed -n 's/^  \([^ ]*\) .*/\1/p')";
}

std::string quoted(const std::string& text) {
    std::string result = "'";
    for (const char c : text) {
        result += c == '\'' ? std::string("'\\''") : std::string(1, c);
    }
    return result + '\'';
}

std::string one_line(std::string text) {
    std::ranges::replace(text, '\n', ' ');
    return text;
}

}  // namespace echoloom
