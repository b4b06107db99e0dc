#include "sim/base/kept_settings.h"

#include <sstream>
#include <string_view>
#include <vector>

namespace echoloom {

Settings kept_settings(const std::string& text, const std::string& name) {
    constexpr std::string_view mark = "# set on the command line: ";
    std::vector<Override> changes;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        const std::size_t equals = line.find(" = ");
        if (line.starts_with(mark) && equals != std::string::npos) {
            changes.push_back({line.substr(mark.size(), equals - mark.size()), line.substr(equals + 3)});
        }
    }
    return Settings::from_text(text, name, changes);
}

}  // namespace echoloom
