#pragma once
/// How similar the echoes of successive pulses from one target are: what a measurement of motion relies on.
///
/// Axial motion is measured from what changes between pulses. Where the beam itself moves from pulse to pulse, the echo
/// changes although the target does not, and the change cannot be distinguished from motion.

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "recon/image/image.h"
#include "sim/base/error.h"

namespace echoloom {

/// One line compared with the line through the target.
struct LaterPulse {
    int pulses = 0;                 ///< later; 0 is the line itself, and every later line of a stationary beam
    double angle_rad = 0.0;         ///< by which the beam has turned meanwhile
    double moved_m = 0.0;           ///< by which it has moved laterally at the target
    double beam_widths = 0.0;       ///< the same in -6 dB widths, as predicted for the target's depth
    double correlation = 1.0;       ///< sum a b / sqrt(sum a^2 sum b^2) over the gate
    double level_dB = 0.0;          ///< of the later echo against the first
    double apparent_m = 0.0;        ///< axial shift, away from the array, of the best match
    double best_correlation = 1.0;  ///< with that shift
};

struct TargetCorrelation {
    Vec3 true_m = Vec3::Zero();
    std::string reason;  ///< why there is no result
    std::vector<LaterPulse> pulses;
};

struct CorrelationReport {
    std::string file;
    std::string recipe;
    std::string title;
    std::string label;
    std::string provenance;
    double gate_m = 0.0;                        ///< full axial length, four wavelengths
    std::optional<double> rotation_rate_rad_s;  ///< of a head that turns while it receives
    std::optional<double> pulse_interval_s;     ///< from the rotation, else the round trip to the scan's depth
    std::vector<TargetCorrelation> targets;     ///< by depth, then by x
};

/// Compares, for each true point, the beamformed RF through it with that of the following lines, until the beam has
/// moved by three of its widths. Throws InputError for an image that has not kept its RF, or whose lines are not those
/// transmitted; `place` names it.
CorrelationReport correlate_pulses(const Image& image, const Place& place = {});

/// For people, with a sentence on what the numbers mean; the caution last.
std::string correlation_text(std::span<const CorrelationReport> images);
std::string correlation_csv(std::span<const CorrelationReport> images);
/// format "echoloom pulse correlation", format_version 1.
std::string correlation_json(std::span<const CorrelationReport> images);

/// Correlation against the angle turned and against beam widths, a curve for each target of an image (at most 8, spread
/// over the depths), beside 1 for a stationary beam. Files as in plot.h. Returns the PNG's path.
std::filesystem::path plot_correlation(const CorrelationReport& image, const std::filesystem::path& folder,
                                       const std::string& name = "correlation");

}  // namespace echoloom
