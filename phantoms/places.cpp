#include "phantoms/places.h"

#include <cmath>

#include "sim/base/text.h"

namespace echoloom {

double read_strength_m(Settings& settings, double fallback_dB) {
    return std::pow(10.0, settings.number_or("strength_dB", fallback_dB, between(-200.0, 200.0)) / 20.0) * mm;
}

Vec3 read_position_m(Settings& settings, std::string_view key) {
    const std::vector<double> place = settings.numbers(key, between(-farthest_mm, farthest_mm), 3);
    return Vec3(place[0], place[1], place[2]) * mm;
}

void refuse_above_face(const Settings& settings, std::string_view key, double depth_m) {
    if (!(depth_m > 0.0)) {
        settings.fail(key, "reaches up to z = " + plain(depth_m / mm) +
                               " mm, but the array's face is at 0; keep everything deeper than that");
    }
}

std::string Names::read(Settings& settings, const std::string& fallback) {
    std::string name = settings.text_or("name", fallback);
    if (name.empty()) {
        settings.fail("name", "is empty; give a name, or leave the key out");
    }
    if (!used_.insert(name).second) {
        settings.fail("name", "'" + name + "' is the name of another region, inclusion or sheet; give each its own");
    }
    return name;
}

}  // namespace echoloom
