#pragma once
/// Numbers of a beam as its tables have them: millimetres, degrees, dB.

#include <cmath>
#include <numbers>
#include <optional>

#include "tools/cli/beam.h"

namespace echoloom {

inline constexpr double degrees = 180.0 / std::numbers::pi;

inline std::optional<double> times(std::optional<double> value, double factor) {
    return value ? std::optional(*value * factor) : std::nullopt;
}

inline std::optional<double> dB(const std::optional<Lobe>& lobe) {
    return lobe ? std::optional(20.0 * std::log10(lobe->level)) : std::nullopt;
}
inline std::optional<double> angle(const std::optional<Lobe>& lobe) {
    return lobe ? std::optional(lobe->angle_rad * degrees) : std::nullopt;
}
inline std::optional<double> pattern_width(const std::optional<BeamPattern>& pattern) {
    return pattern ? times(pattern_width_rad(*pattern), degrees) : std::nullopt;
}

inline std::optional<double> width_mm(const Beam& beam, std::size_t index) {
    return beam.edges[index] ? std::optional(beam.edges[index]->width_m() / 1e-3) : std::nullopt;
}

inline bool is_disc(const Beam& beam) {
    return beam.aperture.shape == BeamAperture::Shape::disc;
}

}  // namespace echoloom
