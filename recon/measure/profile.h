#pragma once
/// A profile through a point's image, and its full width at a level.

#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace echoloom {

/// Amplitude along a line through a peak.
struct Profile {
    std::vector<double> position_m;  ///< monotonic
    std::vector<double> amplitude;   ///< linear, not negative where it comes from an envelope
};

/// The part of a profile that belongs to a point, and what ends it on either side.
struct Reach {
    double from_m = -std::numeric_limits<double>::infinity();
    double to_m = std::numeric_limits<double>::infinity();
    std::string before_from = "the search range ends before the profile falls to this level";
    std::string beyond_to = before_from;
};

/// Full width at a level: between the outermost places within reach where the profile stands at the level. A beam out
/// of focus splits into lobes, and a side lobe may exceed the level: the width spans them, and `lobes` is true.
struct LevelWidth {
    std::optional<double> width_m;  ///< empty where `reason` says why
    double left_m = 0.0;            ///< positions of the two crossings
    double right_m = 0.0;
    double samples = 0.0;  ///< samples of the profile across the lobe that holds the peak
    bool lobes = false;    ///< between the crossings the profile falls below the level
    std::string reason;

    /// Fewer than 3 samples across: interpolation no longer holds the width to 1 %.
    bool coarse() const { return width_m && samples < 3.0; }
};

/// Full width at `level` times the peak that lies at fractional index `peak` (equally spaced samples, interpolated by
/// the band-limited kernel).
LevelWidth width_at_level(const Profile& profile, double peak, double level, const Reach& reach = {});

/// A profile with `factor` times as many values, by the band-limited kernel.
Profile upsampled(Profile profile, int factor);

/// 20 log10 of amplitude over `reference`, not below `floor_dB`.
std::vector<double> level_dB(std::span<const double> amplitude, double reference, double floor_dB = -120.0);

/// Linear interpolation of `values` at a fractional index, clamped to its ends.
double value_at_index(std::span<const double> values, double index);

}  // namespace echoloom
