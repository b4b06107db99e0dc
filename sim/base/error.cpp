#include "sim/base/error.h"

namespace echoloom {

std::string at(const Place& place, const std::string& what) {
    std::string line;
    if (!place.file.empty()) {
        line += place.file;
        if (place.line > 0) {
            line += ':' + std::to_string(place.line);
        }
        line += ": ";
    }
    if (!place.key.empty()) {
        line += place.key + ": ";
    }
    line += what;
    // A name or a quoted value may hold a line break; an error stays one line.
    for (char& character : line) {
        if (static_cast<unsigned char>(character) < 0x20 || character == 0x7f) {
            character = ' ';
        }
    }
    return line;
}

}  // namespace echoloom
