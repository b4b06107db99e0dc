#pragma once
/// Widths of every true point of one or several images beside what theory predicts: a table for people, CSV and JSON.

#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "recon/image/image.h"
#include "recon/measure/aim.h"
#include "recon/measure/point_width.h"
#include "recon/measure/section.h"

namespace echoloom {

/// Stands once in every report, whether its data are simulated or acquired.
inline constexpr const char* caution =
    "For teaching and research only: not for diagnosis and not for setting acoustic output; licensed practice and "
    "local regulations decide.";

/// One true point: what was measured, and what theory gives. Widths that theory cannot give are empty.
struct PointReport {
    PointMeasurement measured;
    bool place_known = true;            ///< false for a point detected in the image: its position has no error
    double wire_length_m = 0.0;         ///< 0 for a point; a wire's predicted width is some 10 % greater
    double theory_lateral_6dB_m = 0.0;  ///< in focus at every depth, paraxial, centre frequency
    double theory_lateral_20dB_m = 0.0;
    double theory_axial_6dB_m = 0.0;
    double theory_axial_20dB_m = 0.0;
    std::optional<double> predicted_lateral_6dB_m;  ///< summed for this recipe, broadband
    std::optional<double> predicted_lateral_20dB_m;
    std::optional<double> predicted_axial_6dB_m;
    std::optional<double> predicted_slice_6dB_m;  ///< thickness of the slice in elevation
    Profile predicted_lateral = {};               ///< relative to the point
    double predicted_reach_m = 0.0;               ///< how far that profile extends to either side
    double predicted_lateral_error_m = 0.0;       ///< from a rotating head, or a steered beam pulled towards broadside
    double line_angle_rad = 0.0;                  ///< of the line through it, from broadside towards +x

    /// Measured over predicted lateral -6 dB width.
    std::optional<double> ratio() const;
};

struct ImageReport {
    std::string file;        ///< the image's; empty where it was never in one
    std::string recipe;      ///< Recipe::name
    std::string title;       ///< Recipe::title, or its name where that is empty
    std::string label;       ///< its name in plots: the title, with the file where titles repeat
    std::string provenance;  ///< the recording and the caution: the footer of a plot
    std::string probe;
    double center_Hz = 0.0;
    double bandwidth_fraction = 0.0;
    double sound_speed_m_s = 0.0;          ///< of the medium
    double assumed_sound_speed_m_s = 0.0;  ///< of the reconstruction
    std::string recording_digest;
    std::vector<PointReport> points;  ///< by depth, then by x
    bool lines_fan = false;           ///< lines point in different directions
    bool regions_given = false;       ///< by the user: what else scatters is not known
    std::string aimed_at;             ///< where positions come from, if not from the recording's truth
    std::vector<std::string> notes;   ///< what theory leaves out for this geometry
    /// Predicted lateral -6 dB width against depth, (m, m), over the depths at which points were measured, along the
    /// column of the one nearest x = 0.
    std::vector<std::pair<double, double>> predicted_curve_m;
    std::vector<Section> sections;  ///< everything but the widths: report_sections(), where wanted
};

/// Measures every true point of an image. For everything else see sections.h.
ImageReport report_image(const Image& image);
/// The same after take_aim(). Leave out the predicted curve where none will be drawn: it takes as long as the rest.
ImageReport report_image(const Image& image, const AimedAt& aimed, bool with_curve = true);

/// Adds the file to the labels of images that would otherwise have the same one.
void label_apart(std::span<ImageReport> images);

/// For people: aligned columns, notes below, the caution last.
std::string text_report(std::span<const ImageReport> images);
/// One row per image and point, units in the column names; first line a comment with the caution.
std::string csv_report(std::span<const ImageReport> images);
/// format "echoloom measurement", format_version 1 (keys are only ever added); units in the key names; null where there
/// is no number. Keys of levels: "6dB" is one half, "20dB" one tenth of the peak amplitude.
std::string json_report(std::span<const ImageReport> images);

}  // namespace echoloom
