#pragma once
/// A cut through a point's image, and its full width at a level.

#include <cstddef>
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

/// Full width at a level, between the first crossings on either side of the peak.
struct LevelWidth {
    std::optional<double> width_m;  ///< empty where `reason` says why
    double left_m = 0.0;            ///< positions of the two crossings
    double right_m = 0.0;
    double samples = 0.0;      ///< the width counted in samples of the profile
    bool rises_again = false;  ///< within 3 widths beyond a crossing the profile climbs above the level again
    std::string reason;

    /// Fewer than 3 samples across: interpolation no longer holds the width to 1 %.
    bool coarse() const { return width_m && samples < 3.0; }
};

/// Full width at `level` times the peak that lies at fractional index `peak` (equally spaced samples, interpolated by
/// the band-limited kernel).
LevelWidth width_at_level(const Profile& profile, double peak, double level);

/// 20 log10 of amplitude over `reference`, not below `floor_dB`.
std::vector<double> level_dB(std::span<const double> amplitude, double reference, double floor_dB = -120.0);

/// Linear interpolation of `values` at a fractional index, clamped to its ends.
double value_at_index(std::span<const double> values, double index);

}  // namespace echoloom
