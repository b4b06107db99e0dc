#include "tools/cli/plane_places.h"

#include <charconv>
#include <cmath>
#include <string_view>

#include "sim/base/error.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;

/// As many numbers as the option takes, in metres.
std::vector<double> numbers(const std::string& option, const std::string& text, std::size_t count,
                            const std::string& example) {
    std::vector<double> values;
    std::string_view rest = text;
    while (true) {
        const std::string_view word = rest.substr(0, rest.find(','));
        double value = 0.0;
        const auto [end, problem] = std::from_chars(word.data(), word.data() + word.size(), value);
        if (problem != std::errc() || end != word.data() + word.size() || !std::isfinite(value)) {
            values.clear();
            break;
        }
        values.push_back(value * mm);
        if (word.size() == rest.size()) {
            break;
        }
        rest.remove_prefix(word.size() + 1);
    }
    if (values.size() != count) {
        throw InputError({option}, "'" + text + "' is not " + std::to_string(count) +
                                       " numbers between commas, in mm; for example " + option + " " + example);
    }
    return values;
}

PlaneBox box_of(const std::string& option, const std::string& text) {
    const auto values = numbers(option, text, 4, "-10,10,20,60");
    if (!(values[0] < values[1]) || !(values[2] < values[3])) {
        throw InputError({option}, "'" + text +
                                       "' is empty; give the lesser x, the greater x, the lesser depth and the "
                                       "greater depth, for example " +
                                       option + " -10,10,20,60");
    }
    return {values[0], values[1], values[2], values[3]};
}

}  // namespace

Aim read_aim(const std::vector<std::string>& points, const std::string& box, const std::vector<std::string>& discs,
             const std::vector<std::string>& speckle) {
    Aim aim;
    for (const std::string& text : points) {
        const auto values = numbers("--at", text, 2, "0,30");
        aim.points.emplace_back(values[0], 0.0, values[1]);
    }
    if (!box.empty()) {
        aim.box = box_of("--box", box);
        if (!aim.points.empty()) {
            throw InputError({"--box"}, "finds points by itself; leave out either it or --at");
        }
    }
    for (const std::string& text : discs) {
        const auto values = numbers("--disc", text, 3, "4,30,5");
        if (!(values[2] > 0.0)) {
            throw InputError({"--disc"}, "'" + text + "' has no diameter; give more than 0, for example --disc 4,30,5");
        }
        aim.discs.push_back({values[0], values[1], values[2]});
    }
    for (const std::string& text : speckle) {
        aim.speckle.push_back(box_of("--speckle", text));
    }
    return aim;
}

}  // namespace echoloom
