#include "sim/base/settings_text.h"

#include <array>
#include <cmath>

#include "sim/base/text.h"

namespace echoloom {

bool in_range(double value, const Range& range) {
    if (std::isnan(value)) {
        return false;
    }
    if (std::isinf(value)) {
        return range.allow_infinite && (value > 0.0 ? std::isinf(range.most) : std::isinf(range.least));
    }
    return value <= range.most && (range.min_open ? value > range.least : value >= range.least);
}

std::string_view unit_of(std::string_view key) {
    struct Ending {
        std::string_view ending;
        std::string_view unit;
    };
    // Longer endings first: "_dB_cm_MHz" also ends in "_MHz".
    static constexpr std::array<Ending, 22> endings = {{{"_dB_cm_MHz", "dB/(cm MHz)"},
                                                        {"_per_mm3", "per cubic millimetre"},
                                                        {"_per_mm2", "per square millimetre"},
                                                        {"_rad_s", "rad/s"},
                                                        {"_m_s", "m/s"},
                                                        {"_percent", "percent"},
                                                        {"_bits", "bits"},
                                                        {"_deg", "degrees"},
                                                        {"_rad", "radians"},
                                                        {"_MHz", "MHz"},
                                                        {"_kHz", "kHz"},
                                                        {"_Hz", "Hz"},
                                                        {"_mm", "mm"},
                                                        {"_cm", "cm"},
                                                        {"_um", "micrometres"},
                                                        {"_us", "microseconds"},
                                                        {"_ns", "nanoseconds"},
                                                        {"_dB", "dB"},
                                                        {"_MiB", "MiB"},
                                                        {"_GiB", "GiB"},
                                                        {"_m", "m"},
                                                        {"_s", "s"}}};
    for (const Ending& entry : endings) {
        if (key.ends_with(entry.ending)) {
            return entry.unit;
        }
    }
    return {};
}

std::string wanted_number(std::string_view key, const Range& range) {
    const bool bounded_below = std::isfinite(range.least);
    const bool bounded_above = std::isfinite(range.most);
    std::string text = "a number";
    if (bounded_below && !range.min_open && bounded_above) {
        text += " from " + plain(range.least) + " to " + plain(range.most);
    } else {
        if (bounded_below) {
            text += (range.min_open ? " more than " : " of at least ") + plain(range.least);
        }
        if (bounded_above) {
            text += (bounded_below ? " and at most " : " of at most ") + plain(range.most);
        }
    }
    const std::string_view unit = unit_of(key);
    return unit.empty() ? text : text + ", in " + std::string(unit);
}

std::string wanted_integer(std::string_view key, long long least, long long most) {
    std::string text = "a whole number from " + std::to_string(least) + " to " + std::to_string(most);
    const std::string_view unit = unit_of(key);
    return unit.empty() ? text : text + ", in " + std::string(unit);
}

}  // namespace echoloom
