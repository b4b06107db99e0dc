#include "recon/image/axis.h"

#include <algorithm>
#include <cmath>
#include <iomanip>
#include <sstream>

namespace echoloom {

namespace {
constexpr double rounding = 1e-6;  ///< of a step
}

double round_step(double min_step) {
    double decade = std::pow(10.0, std::floor(std::log10(min_step)));
    for (;; decade *= 10.0) {
        for (const double digit : {1.0, 2.0, 5.0}) {
            if (digit * decade >= min_step * (1.0 - rounding)) {
                return digit * decade;
            }
        }
    }
}

std::vector<Tick> ruled_edge(double least, double most, double step, double min_gap) {
    const int parts = step / 10.0 >= min_gap ? 10 : step / 2.0 >= min_gap ? 2 : 1;
    const double part = step / parts;
    std::vector<Tick> ticks;
    const auto first = std::llround(std::ceil(least / part - rounding));
    const auto last = std::llround(std::floor(most / part + rounding));
    for (auto k = first; k <= last; ++k) {
        const auto within = std::abs(k % parts);
        const TickKind kind = within == 0 ? TickKind::labelled : 2 * within == parts ? TickKind::half : TickKind::tenth;
        ticks.push_back({static_cast<double>(k) * part, kind});
    }
    return ticks;
}

std::string tick_label(double value, double step) {
    const double decimals = std::max(0.0, std::ceil(-std::log10(step) - rounding));
    std::ostringstream digits;
    digits << std::fixed << std::setprecision(static_cast<int>(decimals)) << std::abs(value);
    const bool negative = value < -rounding * step;
    return (negative ? "\u2212" : "") + digits.str();
}

}  // namespace echoloom
