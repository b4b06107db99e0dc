#pragma once
/// The transmitted beams that `echoloom field` sets side by side, and how they are shown.

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/engine/field_beam.h"

namespace echoloom {

/// Most beams one page of maps or one plot holds.
inline constexpr std::size_t most_beams = 6;

/// One transmit event of a probe, and what was computed of its beam. Pressures are in units of rho c v.
struct Beam {
    std::string name;  ///< by which it is told from the others
    std::string probe_name, scan_name;
    std::size_t event = 0, events = 0;  ///< which of how many
    bool unfocused = false;             ///< delays set to zero
    double frequency_Hz = 0.0;
    double focus_m = 0.0;  ///< from the origin; 0 where there is none in front

    TransmittedField field;
    BeamAperture aperture;
    BeamAxis axis;
    std::vector<Vec3> face;      ///< the middles of what sends, from end to end, as a line in the image plane
    double face_radius_m = 0.0;  ///< of a curved array, else 0

    std::optional<double> near_zone_m;     ///< by rule; none for a face that diverges
    std::optional<double> last_maximum_m;  ///< of a beam without a focus
    std::optional<double> rule_half_angle_rad;
    std::optional<double> far_half_angle_rad;

    std::vector<double> depth_m;                  ///< along the axis
    std::vector<double> pressure;                 ///< [depth] on the axis
    std::vector<std::optional<BeamEdges>> edges;  ///< [depth]; computed at every `edge_stride`-th depth only
    std::size_t peak() const;                     ///< index of the highest pressure on the axis, the deepest of equals
};
inline constexpr std::size_t edge_stride = 12;

/// The event by itself; nothing is measured yet.
Beam describe_beam(const Probe& probe, const Scan& scan, std::size_t event, bool unfocused, const Medium& medium,
                   double frequency_Hz);

/// Near zone, axis, widths at round depths, and divergence, as deep as `depth_m`.
void measure_beam(Beam& beam, double depth_m);

/// For people: what each beam is, a line of figures each, and a table of depths; the caution last.
std::string field_text(std::span<const Beam> beams);
/// One row per beam and depth; first line a comment with the caution.
std::string field_csv(std::span<const Beam> beams);
/// format "echoloom field", format_version 1.
std::string field_json(std::span<const Beam> beams);

/// Beam maps in dB side by side, `half_width_m` to either side of the axis (0: as wide as the beams need).
void draw_beam_maps(std::span<const Beam> beams, double half_width_m, const std::filesystem::path& png);

/// Pressure on the axis and beam width, both against depth, by gnuplot: NAME.png, and .csv, .gp and .svg beside it.
std::vector<std::filesystem::path> beam_curve_files(const std::filesystem::path& png);
void draw_beam_curves(std::span<const Beam> beams, const std::filesystem::path& png);

}  // namespace echoloom
