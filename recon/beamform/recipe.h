#pragma once
/// A recipe: how an image is formed from a recording.

#include <optional>
#include <string>
#include <vector>

#include "sim/array/window.h"
#include "sim/base/settings.h"

namespace echoloom {

enum class FocusMode { fixed, zones, dynamic };
enum class ApertureMode { constant, growing };
enum class Interpolation { linear, cubic, upsampled };

struct Recipe {
    std::string name;   ///< file stem of its outputs
    std::string title;  ///< what differs, for the picture
    // receive focus
    FocusMode focus = FocusMode::dynamic;
    std::vector<double> focus_depths_m;  ///< one for fixed, one per zone for zones, empty for dynamic
    // receive aperture, in elements across its full width
    ApertureMode aperture = ApertureMode::constant;
    double f_number = 0.0;              ///< growing: depth over aperture width
    std::optional<int> least_elements;  ///< default 1 (growing)
    std::optional<int> most_elements;   ///< default all channels
    // apodization
    Window window;
    std::vector<double> custom_weights;  ///< from a file: equally spaced samples across the aperture, replaces `window`
    bool normalize_depth = true;         ///< each depth's weights sum to one
    // propagation and sampling
    std::optional<double> sound_speed_m_s;  ///< assumed; default the recording's
    Interpolation interpolation = Interpolation::upsampled;
    // grid: depth range and step default from the recording; lateral range and steps apply to Cartesian images
    std::optional<double> least_depth_m, most_depth_m, depth_step_m;
    std::optional<double> least_x_m, most_x_m, x_step_m;
    // after the sum
    double depth_gain_dB_cm_MHz = 0.0;   ///< two-way compensation 2 a f0 z; 0 for none
    double dynamic_range_dB = 60.0;      ///< of the picture
    std::optional<double> reference_dB;  ///< picture's white level relative to the envelope's peak; default 0
    bool keep_rf = false;                ///< store the beamformed RF (lines) or IQ (grid) beside the envelope
    std::string source;                  ///< exact TOML text
};

Recipe read_recipe(Settings settings);
Recipe load_recipe(const std::string& path_or_name, std::span<const Override> overrides = {});

}  // namespace echoloom
