#pragma once
/// The beams that `echoloom beam` sets side by side, and how they are shown.

#include <filesystem>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/engine/beam_field.h"
#include "sim/engine/beam_pattern.h"
#include "sim/engine/field_beam.h"
#include "tools/cli/beam_receive.h"
#include "tools/cli/before_face.h"

namespace echoloom {

/// Most beams one page of maps or one plot holds.
inline constexpr std::size_t max_beams = 6;

/// Where a beam is shown: in the image plane, in elevation (both through the beam's axis), or at one depth.
enum class BeamPlane { scan, elevation, depth };

/// What is asked of every beam.
struct BeamView {
    BeamPlane plane = BeamPlane::scan;
    bool unfocused = false;
    bool pulsed = false;
    bool pattern = false;
    bool quiet = false;                  ///< no progress
    std::optional<double> at_m;          ///< of the plane of one depth
    std::optional<double> pattern_at_m;  ///< distance of the pattern against angle
};

/// One event of a probe, and what was computed of its beam. Pressures are in units of rho c v, of a two-way beam of its
/// square.
struct Beam {
    std::string name;  ///< what sets it apart from the others
    std::string probe_name, scan_name;
    std::size_t event = 0, events = 0;  ///< which of how many
    BeamPath path = BeamPath::transmit;
    BeamView view;
    double frequency_Hz = 0.0;
    double focus_m = 0.0;  ///< from the origin; 0 where there is none in front; two-way, that of transmit
    double transmit_focus_m = 0.0, receive_focus_m = 0.0;
    std::string receive;   ///< in words; empty for a transmit beam
    bool follows = false;  ///< the receive focus, with depth

    BeamField field;
    BeamAperture aperture;         ///< along the array
    BeamAperture across_aperture;  ///< along BeamAxis::across
    BeamAxis axis;
    Vec3 broadside;          ///< out of the face, at the origin
    std::vector<Vec3> face;  ///< the middles of what takes part, from end to end, as a line in the plane shown
    FaceShape shape;
    double face_radius_m = 0.0;  ///< of a curved array, else 0
    double lens_focus_m = 0.0;   ///< 0 where there is none
    ArrayTheory theory;
    std::vector<ElementDrive> drives;  ///< transmit, receive or both, as at the range of comparison
    std::vector<Element> elements;

    std::optional<double> near_zone_m;     ///< theory; none for a face that diverges
    std::optional<double> last_maximum_m;  ///< of a beam without a focus
    std::optional<double> theory_half_angle_rad;
    std::optional<double> far_half_angle_rad;
    std::optional<double> focus_width_m, theory_focus_width_m;  ///< -6 dB, at compared_m
    double compared_m = 0.0;  ///< the focus, or where the receive beam is compared; 0: nowhere

    std::vector<double> depth_m;                  ///< along the axis
    std::vector<double> pressure;                 ///< [depth] on the axis
    std::vector<std::optional<BeamEdges>> edges;  ///< [depth]; computed at every `edge_stride`-th depth only
    std::size_t peak() const;                     ///< index of the highest pressure on the axis, the deepest of equals

    std::optional<BeamPattern> pattern;
    std::optional<BeamPattern>
        theory_pattern;  ///< continuous wave, in focus or in the far field, from the weights alone
    std::vector<GratingLobe> gratings;
    std::optional<Lobe> side_lobe, theory_side_lobe;
    int passes() const { return path == BeamPath::two_way ? 2 : 1; }  ///< through the array's pattern
};
inline constexpr std::size_t edge_stride = 12;

/// "Transmit", "Receive" or "Two-way".
std::string path_title(BeamPath path);
/// "transmit", "receive" or "two-way".
std::string path_name(BeamPath path);
/// "rho c v", "(rho c v)^2", or both where beams differ; by the terminal's signs.
std::string pressure_unit(std::span<const Beam> beams);
/// The same as the name of a column: "axis_pressure_rho_c_v", of two-way beams "axis_pressure_rho_c_v_squared".
std::string pressure_column(const Beam& beam);
/// "continuous wave" or "peaks of the pulse".
std::string wave_words(const BeamView& view);
/// "Transmit beams, continuous wave".
std::string beams_title(std::span<const Beam> beams);

/// The pattern by theory at the angles of another: the array factor of the weights times the element factor, for
/// two-way beams transmit times receive; Airy's for rings. None for a curved face.
std::optional<BeamPattern> theory_pattern(const Beam& beam, const BeamPattern& angles);

/// A beam of a scan's event; nothing is measured yet. `receive` is needed by all but transmit.
Beam describe_beam(const Probe& probe, const Scan& scan, std::size_t event, BeamPath path,
                   const std::optional<ReceiveTheory>& receive, const BeamView& view, const Medium& medium,
                   double frequency_Hz);

/// Near zone, axis, widths at round depths, divergence and, where it is asked for, the pattern; as deep as `depth_m`.
void measure_beam(Beam& beam, double depth_m);

/// For people: what each beam is, a line of figures each, and a table of depths; the caution last.
std::string beam_text(std::span<const Beam> beams);
/// One row per beam and depth; first line a comment with the caution.
std::string beam_csv(std::span<const Beam> beams);
/// format "echoloom beam", format_version 1.
std::string beam_json(std::span<const Beam> beams);

/// Beam maps in dB side by side, `half_width_m` to either side of the axis (0: as wide as the beams need).
void draw_beam_maps(std::span<const Beam> beams, double half_width_m, const std::filesystem::path& png);

/// Pressure on the axis and beam width, both against depth, by gnuplot: NAME.png, and .csv, .gp and .svg beside it.
std::vector<std::filesystem::path> beam_plot_files(const std::filesystem::path& png);
void draw_beam_curves(std::span<const Beam> beams, const std::filesystem::path& png);
/// Level against angle, with theory and its grating lobes; the same files.
void draw_beam_patterns(std::span<const Beam> beams, const std::filesystem::path& png);

}  // namespace echoloom
