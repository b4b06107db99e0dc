#pragma once
/// Where a point of the image plane lies among the scan lines that were beamformed.

#include <optional>
#include <vector>

#include "recon/beamform/beamform.h"

namespace echoloom {

/// A rectangle of the image plane y = 0, in metres.
struct Extent {
    double min_x_m = 0.0, max_x_m = 0.0;
    double min_z_m = 0.0, max_z_m = 0.0;
    double width_m() const { return max_x_m - min_x_m; }
    double height_m() const { return max_z_m - min_z_m; }
};

/// A place on the grid in (fractional) indices of columns and depths.
struct LinePlace {
    double column = 0.0;
    double depth = 0.0;
    double advance = 0.0;  ///< of the line through the place, see ScanLines
};

/// Where a line ends, and its angle from +z towards +x.
struct LineEnd {
    double angle_rad = 0.0;
    double x_m = 0.0, z_m = 0.0;
};
/// The deep ends of lines that fan out, by growing angle; empty for parallel ones.
using FanEdge = std::vector<LineEnd>;

/// Lines in the plane y = 0, neighbours next to each other: parallel, steered or spread like a fan of less than half a
/// turn. An echo lies across its line: on a straight front square to parallel lines, on an arc about the point where
/// lines that fan would cross. Where such a front does not run along equal depths of all lines (steered lines, or a fan
/// from a straight face), a line's samples are `advance` depth steps ahead of those of the first line. A Cartesian grid
/// counts as vertical lines; a single line as a strip a tenth as wide as it is long.
class ScanLines {
  public:
    /// Throws InputError for a grid that spans no area (fewer than two depths).
    explicit ScanLines(const Grid& grid);

    /// Smallest rectangle that holds the ends of every line.
    Extent extent() const;
    /// Empty where the lines spread by less than 5 degrees or not in the order of their angles.
    FanEdge fan_edge() const;
    double depth_step_m() const { return depth_step_m_; }
    /// Whether equal depths make one front.
    bool level() const { return level_; }
    double advance(std::size_t column) const;
    /// Whether all lines run straight down from one height: then a place's column follows from x alone and its depth
    /// from z alone.
    bool upright() const;
    /// Of the angle between +z and the line most tilted from it.
    double steepest_sine() const;

    /// Place of the point (x, z), in metres; empty outside the first and last lines and depths. `hint` is the line
    /// found last: points asked for one after another should be neighbours.
    std::optional<LinePlace> locate(double x, double z, std::size_t& hint) const;

  private:
    struct Line {
        double origin_x, origin_z, direction_x, direction_z;
        /// Signed distance of a point: positive on the side of growing x.
        double side(double x, double z) const { return direction_z * (x - origin_x) - direction_x * (z - origin_z); }
    };
    /// How much further along it the right line begins, counted from the same front; also how far before their origins
    /// the two would cross, 0 where they are parallel.
    static double advance_between(const Line& left, const Line& right, double& apex_m);
    double depth_index(std::size_t left_line, double fraction, double x, double z) const;

    std::vector<Line> lines_;       ///< by growing x
    std::vector<double> apexes_m_;  ///< of each line and the next
    std::vector<double> advances_;
    bool level_ = true;
    bool reversed_ = false;  ///< the grid's columns run against x
    bool single_ = false;    ///< one column, widened
    double min_depth_m_ = 0.0;
    double depth_step_m_ = 0.0;
    double last_depth_index_ = 0.0;
};

}  // namespace echoloom
