#pragma once
/// Where everything on a page goes: panels in rows, their axes, one grey bar, and the text around them. Pure geometry,
/// worked out before anything is drawn.

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "recon/image/canvas.h"
#include "recon/image/font.h"
#include "recon/image/grey_scale.h"
#include "recon/image/scan_lines.h"

namespace echoloom {

struct PanelContent {
    Extent extent;
    std::string title;
    std::string letter;  ///< by which the panel is called; may be empty
    FanEdge fan = {};    ///< gets a scale of degrees; may be empty
};

/// A bar beside the grey one for a panel that is not in greys: what stands below it, by fractions of its length.
struct ScaleBar {
    std::string name;
    std::vector<std::pair<double, std::string>> labels;  ///< from the left; both ends among them
};

struct PageContent {
    std::vector<PanelContent> panels;  ///< at least one
    std::string heading;               ///< over the whole page; may be empty
    std::string caption;               ///< under the panels; may be empty
    std::string caution;               ///< the last line
    GreyScale scale;
    std::string scale_name;                        ///< of the grey bar
    std::string horizontal_name = "lateral (mm)";  ///< of the panels' axes
    std::string vertical_name = "depth (mm)";
    std::optional<ScaleBar> second_bar = std::nullopt;
};

/// What the page may take. The defaults keep every letter legible at the back of a classroom: the page shown 1600 px
/// wide has letters of 20 px and more.
struct PageLimits {
    int max_width = 2400;
    int max_height = 1800;
    double text_size = 34.0;      ///< em of ordinary text
    double min_text_size = 30.0;  ///< to which long text may shrink
    double max_pixels_per_mm = 14.0;
    double min_longest_side = 900.0;  ///< a small panel is enlarged, past max_pixels_per_mm, to this many pixels
};

enum class Align { left, centre, right };

struct PlacedText {
    Rect box;
    std::vector<std::string> lines;
    double size = 0.0;
    Align align = Align::left;
    bool bold = false;
    bool upwards = false;  ///< turned a quarter to the left
};

struct PageLayout {
    int width = 0, height = 0;
    double pixels_per_m = 0.0;
    std::vector<Rect> images;     ///< in the order of the panels
    std::vector<Extent> extents;  ///< of the images: the panels' own, and room for a scale of degrees
    Rect bar;                     ///< of greys, from black at the left to white at the right
    Rect second_bar;              ///< below it; empty where there is none
    std::vector<Rect> ticks;
    std::vector<PlacedText> texts;
    std::vector<PlacedText> badges;  ///< letters, light on a dark square
    // Scales of degrees, inside the images and drawn over them.
    std::vector<std::pair<Position, Position>> angle_ticks;
    std::vector<PlacedText> angle_labels;
};

/// The layout whose panels, all at one scale, are as large as the limits allow. More than one row is taken only where
/// it makes them clearly larger (15 %): eyes compare along a row.
PageLayout lay_out(const PageContent& content, const PageLimits& limits, const Fonts& fonts);

}  // namespace echoloom
