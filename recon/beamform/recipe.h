#pragma once
/// A recipe: how an image is formed from a recording.
///
/// The keys of the TOML file, all optional unless said otherwise:
///
///   sound_speed_m_s   assumed; default the recording's
///   interpolation     "upsampled" (default), "cubic" or "linear"
///   high_pass_MHz     high-pass on every trace before the sum: half the amplitude there, nothing below a third of it,
///                     all above five thirds; default 0.15 of the probe's centre frequency, less for bands over 70 %;
///                     0 for none
///   keep_rf           true: store the beamformed RF (lines as transmitted) or the analytic sum (pixels) beside the
///   envelope
///
///   [receive]
///   focus             "dynamic" (default); "fixed" needs focus_depth_mm; "zones" needs zone_depths_mm
///   aperture          "constant" (default); "growing" needs f_number and takes min_elements (default 1)
///   max_elements      elements across the widest aperture, counted along the face: columns of a 1.5-D array, rings
///                     of an annular one from the inside; default all that receive
///   window            name of sim/array/window.h (default "rectangular"), with window_parameter where it has one,
///                     or weights_file (text, one weight per line, path relative to the recipe), or weights = [...]
///   normalize         true (default): the weights of each depth sum to one
///
///   [transmit]
///   focus             scans of focused lines: "as_transmitted" (default) forms each line from its own events;
///   "retrospective"
///                     adds all events into every sample, by the path their waves took through their foci
///   window            retrospective: weights of events across the cone of rays through the focus (default "hann"),
///                     with window_parameter where it has one
///   normalize         retrospective: true (default) divides each sample by the weights that went into it, for an even
///                     picture; false leaves the sum as it is, so that the level shows how many events met
///   weights           full matrix: "as_receive" (default) weights the firing elements by the receive rule, so that the
///                     two-way pattern is symmetric; "equal" does not
///   angle_window      plane and diverging waves: window across the set of angles, or of sources, with
///                     angle_window_parameter; default none
///
///   [grid]            min_depth_mm, depth_mm, depth_step_mm
///   x_mm, x_step_mm   plane and diverging waves and full matrices, seen by a flat array: [min, max] and step of
///                     columns straight down; default where the probe is not "phased"
///   sector_half_angle_deg, angle_step_deg
///                     the same recordings as columns of a sector: from the middle of a flat face, by default to 45
///                     degrees for a "phased" array, in steps of lambda / (4 face length) at most; along the radii of
///                     a curved array, by default all of its face, in steps of a quarter wavelength along it
///   [picture]         title, attenuation_compensation_dB_cm_MHz, dynamic_range_dB, reference_dB

#include <algorithm>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sim/array/window.h"
#include "sim/base/settings.h"

namespace echoloom {

enum class FocusMode { fixed, zones, dynamic };
enum class ApertureMode { constant, growing };
enum class TransmitWeights { as_receive, equal };
enum class TransmitFocus { as_transmitted, retrospective };

/// How echoes are evaluated between samples. Relative L2 error against exact band-limited interpolation, Gaussian
/// echoes of 60 % bandwidth sampled at 40 MHz (tests/beamform/interpolation_test.cpp, transform_test.cpp):
///
///   choice                5 MHz     7 MHz
///   linear                5.2 %     9.0 %     two points
///   cubic                 0.71 %    2.2 %     four points (Lagrange)
///   upsampled, lines      0.055 %   0.17 %    twice the rate by Fourier transform, then cubic
///   upsampled, pixels     0.013 %   0.023 %   the carrier taken out, then a quadratic spline (demodulation.h)
enum class Interpolation { linear, cubic, upsampled };

/// The high-pass where a recipe names none, as a fraction of the probe's centre frequency. It takes what reaches a sum
/// of many elements from all directions and leaves the echoes of a 60 % Gaussian pulse as they are: peak -0.05 %, -6 dB
/// widths within 0.08 %; brought down from 5 to 3.5 MHz by attenuation, -1.6 % and +3.3 %
/// (tests/beamform/high_pass_test.cpp).
/// Wide bands reach lower, and so must their cut: 0.15 up to 70 % of bandwidth, 0.08 at 80 %, never below 0.03. Peaks
/// of bands from 70 to 100 % then stay within 0.4 %, axial widths within 0.8 %.
inline double default_high_pass(double bandwidth_fraction) {
    return std::clamp(0.15 - 0.7 * (bandwidth_fraction - 0.7), 0.03, 0.15);
}

struct Recipe {
    std::string name;   ///< file stem of its outputs
    std::string title;  ///< what differs, for the picture
    // receive focus
    FocusMode focus = FocusMode::dynamic;
    std::vector<double> focus_depths_m;  ///< one for fixed, one per zone for zones, empty for dynamic
    // receive aperture, in elements across its full width
    ApertureMode aperture = ApertureMode::constant;
    double f_number = 0.0;            ///< growing: depth over aperture width
    std::optional<int> min_elements;  ///< default 1 (growing)
    std::optional<int> max_elements;  ///< default all channels
    // apodization
    Window window;
    std::vector<double> custom_weights;  ///< at the centres of equal parts of the aperture; replaces `window`
    bool normalize_depth = true;         ///< each depth's weights sum to one
    // transmit focus and weights of events
    TransmitFocus transmit_focus = TransmitFocus::as_transmitted;    ///< scans of focused lines
    Window cone_window{WindowKind::hann, 0.0};                       ///< retrospective
    bool normalize_events = true;                                    ///< retrospective
    TransmitWeights transmit_weights = TransmitWeights::as_receive;  ///< full matrix
    std::optional<Window> angle_window;                              ///< plane, diverging waves; none: all alike
    // propagation and sampling
    std::optional<double> sound_speed_m_s;  ///< assumed; default the recording's
    Interpolation interpolation = Interpolation::upsampled;
    std::optional<double> high_pass_Hz;  ///< default_high_pass() of the centre frequency; 0: none
    // grid: depth range and step default from the recording; the others apply to images of pixels
    std::optional<double> min_depth_m, max_depth_m, depth_step_m;
    std::optional<double> min_x_m, max_x_m, x_step_m;
    std::optional<double> sector_half_angle_rad, angle_step_rad;
    // after the sum
    double attenuation_compensation_dB_cm_MHz = 0.0;  ///< two-way compensation 2 a f0 z; 0 for none
    double dynamic_range_dB = 60.0;                   ///< of the picture
    std::optional<double> reference_dB;  ///< picture's white level relative to the envelope's peak; default 0
    bool keep_rf = false;                ///< store the beamformed RF (lines) or IQ (pixels) beside the envelope
    std::string source;                  ///< exact TOML text
    std::map<std::string, Place, std::less<>> places;  ///< where each key written stands, for errors found later
};

Recipe read_recipe(Settings settings);
/// By path or shipped name.
Recipe load_recipe(const std::string& path_or_name, std::span<const Override> overrides = {});

/// The recipe as TOML with every value in force, overrides and weights from a file included: reads back as the same
/// recipe wherever it is.
std::string recipe_toml(const Recipe& recipe);

/// Where a dotted key stands in the recipe's file; file and line are left out where it was not written.
Place place_of(const Recipe& recipe, std::string_view dotted_key);

}  // namespace echoloom
