// Beam maps in dB, side by side on one page.

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/image/canvas.h"
#include "recon/image/page.h"
#include "recon/image/page_layout.h"
#include "recon/image/png.h"
#include "recon/image/scan_conversion.h"
#include "sim/base/progress.h"
#include "sim/base/text.h"
#include "tools/cli/beam.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double range_dB = 40.0;
constexpr double max_samples = 360.0;        ///< along the longer side of a map
constexpr double max_plane_samples = 180.0;  ///< of a plane of one depth, which is all beam
constexpr std::size_t columns_at_once = 16;  ///< of a map, between two steps of progress
constexpr double min_aspect = 0.22;          ///< of a panel's width to its height, so that its title has room
constexpr double max_aspect = 1.2;

/// Half the width that shows what is worth seeing: the aperture and the beam to its widest.
double needed_half_width_m(const Beam& beam) {
    double widest = 0.8 * beam.across_aperture.width_m;
    for (const auto& edges : beam.edges) {
        if (edges) {
            widest = std::max({widest, 1.5 * edges->right_m, -1.5 * edges->left_m});
        }
    }
    return widest;
}

/// The plane shown, in its own coordinates: x to the right, z down the page, which is depth or, in a plane of one
/// depth, elevation.
struct ShownPlane {
    Vec3 origin_m, across, down;
    Vec3 place(double x_m, double z_m) const { return origin_m + x_m * across + z_m * down; }
    double x_m(const Vec3& point_m) const { return (point_m - origin_m).dot(across); }
    double z_m(const Vec3& point_m) const { return (point_m - origin_m).dot(down); }
};

/// Depth of a plane of one depth: what was asked for, the focus, or the middle of what is computed.
double plane_depth_m(const Beam& beam) {
    return beam.view.at_m.value_or(beam.compared_m > 0.0 ? beam.compared_m : 0.5 * beam.depth_m.back());
}

ShownPlane shown_plane(const Beam& beam) {
    switch (beam.view.plane) {
        case BeamPlane::elevation:
            return {beam.axis.origin_m, Vec3::UnitY(), beam.axis.direction};
        case BeamPlane::depth:
            return {Vec3(0.0, 0.0, beam.axis.point(plane_depth_m(beam)).z()), Vec3::UnitX(), Vec3::UnitY()};
        case BeamPlane::scan:
            break;
    }
    return {Vec3::Zero(), Vec3::UnitX(), Vec3::UnitZ()};
}

Extent map_extent(const Beam& beam, double half_width_m) {
    const ShownPlane plane = shown_plane(beam);
    if (beam.view.plane == BeamPlane::depth) {
        const double middle = plane.x_m(beam.axis.point(plane_depth_m(beam)));
        return {middle - half_width_m, middle + half_width_m, -half_width_m, half_width_m};
    }
    const Vec3 end = beam.axis.point(beam.depth_m.back());
    const double from = plane.x_m(beam.axis.origin_m);
    const double to = plane.x_m(end);
    return {std::min(from, to) - half_width_m, std::max(from, to) + half_width_m,
            std::min(0.0, plane.z_m(beam.axis.origin_m)), plane.z_m(end)};
}

/// Half the side of a plane of one depth: the beam there, as measured or as wide as its main lobe and some side lobes.
double plane_half_width_m(const Beam& beam) {
    const double depth_m = plane_depth_m(beam);
    const double lobe_m = beam.field.wavelength_m() * depth_m / beam.across_aperture.width_m;
    double half_m = std::max(6.0 * lobe_m, 6.0 * beam.field.wavelength_m());
    for (std::size_t i = 0; i < beam.edges.size(); ++i) {
        if (beam.edges[i] && std::abs(beam.depth_m[i] - depth_m) < 0.03 * depth_m) {
            half_m = std::max(half_m, 0.8 * beam.edges[i]->width_m());
        }
    }
    return half_m;
}

struct BeamMap {
    CartesianGrid grid;
    std::vector<float> amplitude;
};

/// Where the same field is found: one row of elements does the same on either side of the image plane.
std::size_t mirrored_place(const Beam& beam, const CartesianGrid& grid, std::size_t at) {
    const bool one_row = std::ranges::all_of(beam.elements, [](const Element& e) { return e.center_m.y() == 0.0; });
    const std::size_t rows = grid.depth_m.size();
    const std::size_t column = at / rows;
    const std::size_t row = at % rows;
    if (one_row && beam.view.plane == BeamPlane::depth) {
        return column * rows + std::min(row, rows - 1 - row);
    }
    if (one_row && beam.view.plane == BeamPlane::elevation) {
        return std::min(column, grid.x_m.size() - 1 - column) * rows + row;
    }
    return at;
}

BeamMap compute_map(const Beam& beam, const Extent& extent) {
    const ShownPlane plane = shown_plane(beam);
    const bool cut = beam.view.plane == BeamPlane::depth;
    const double step = std::max(extent.width_m(), extent.height_m()) / (cut ? max_plane_samples : max_samples);
    const auto spread = [&](double start, double length) {
        const auto count = static_cast<std::size_t>(std::ceil(length / step)) + 1;
        std::vector<double> places;
        for (std::size_t i = 0; i < count; ++i) {
            places.push_back(start + length * static_cast<double>(i) / static_cast<double>(count - 1));
        }
        return places;
    };
    BeamMap map{{spread(extent.min_x_m, extent.width_m()), spread(extent.min_z_m, extent.height_m())}, {}};
    const std::size_t column = map.grid.depth_m.size();
    map.amplitude.assign(map.grid.x_m.size() * column, std::numeric_limits<float>::quiet_NaN());
    Progress progress("map of " + beam.name, map.grid.x_m.size(), beam.view.quiet);
    for (std::size_t first = 0; first < map.grid.x_m.size(); first += columns_at_once) {
        const std::size_t last = std::min(first + columns_at_once, map.grid.x_m.size());
        std::vector<Vec3> points;
        std::vector<std::size_t> index;
        for (std::size_t at = first * column; at < last * column; ++at) {
            if (mirrored_place(beam, map.grid, at) != at) {
                continue;
            }
            const Vec3 shown = plane.place(map.grid.x_m[at / column], map.grid.depth_m[at % column]);
            if (const auto place = before_face(beam.shape, shown, 0.25 * beam.field.wavelength_m())) {
                points.push_back(*place);
                index.push_back(at);
            }
        }
        const std::vector<double> amplitudes = beam.field.amplitudes(points);
        for (std::size_t i = 0; i < index.size(); ++i) {
            map.amplitude[index[i]] = static_cast<float>(amplitudes[i]);
        }
        progress.advance(last - first);
    }
    for (std::size_t at = 0; at < map.amplitude.size(); ++at) {
        map.amplitude[at] = map.amplitude[mirrored_place(beam, map.grid, at)];
    }
    return map;
}

/// From metres in the room to pixels of a panel.
class PanelPlaces {
  public:
    PanelPlaces(const Rect& panel, const ShownPlane& plane, const Extent& extent, double pixels_per_m)
        : panel_(panel), plane_(plane), extent_(extent), pixels_per_m_(pixels_per_m) {}
    Position operator()(const Vec3& point_m) const {
        return {panel_.x + (plane_.x_m(point_m) - extent_.min_x_m) * pixels_per_m_,
                panel_.y + (plane_.z_m(point_m) - extent_.min_z_m) * pixels_per_m_};
    }

  private:
    Rect panel_;
    ShownPlane plane_;
    Extent extent_;
    double pixels_per_m_;
};

bool near_zone_shown(const Beam& beam) {
    return beam.view.plane == BeamPlane::scan && beam.near_zone_m && *beam.near_zone_m < beam.depth_m.back();
}

/// What takes part, the edges of the beam at half amplitude, and the length of the near zone.
void draw_marks(Canvas& canvas, const Rect& panel, const PanelPlaces& place, const Beam& beam, double half_width_m) {
    if (beam.view.plane == BeamPlane::depth) {
        return;
    }
    std::vector<Position> face;
    for (const Vec3& point : beam.face) {
        face.push_back(place(point));
    }
    canvas.stroke(face, 9.0, mark_colour, panel);
    for (const bool left : {true, false}) {
        std::vector<Position> line;
        for (std::size_t i = 0; i < beam.edges.size(); ++i) {
            if (beam.edges[i]) {
                line.push_back(
                    place(beam.axis.point(beam.depth_m[i], left ? beam.edges[i]->left_m : beam.edges[i]->right_m)));
            }
        }
        canvas.stroke(line, 2.0, mark_colour, panel);
        if (near_zone_shown(beam)) {
            const double side = left ? -1.0 : 1.0;
            const Position bar[] = {place(beam.axis.point(*beam.near_zone_m, side * 0.7 * half_width_m)),
                                    place(beam.axis.point(*beam.near_zone_m, side * 0.98 * half_width_m))};
            canvas.stroke(bar, 4.0, mark_colour, panel);
        }
    }
}

std::string panel_title(const Beam& beam) {
    return beam.name + ", " + plain(std::round(beam.frequency_Hz * 1e-4) / 1e2) + "\u00a0MHz";
}

std::string caption(std::span<const Beam> beams) {
    const Beam& beam = beams.front();
    std::string words = beams_title(beams);
    if (beam.view.unfocused) {
        words += ", all elements at once";
    }
    if (beam.view.plane == BeamPlane::depth) {
        return words + ". Plane " + plain(std::round(plane_depth_m(beam) / mm * 100.0) / 100.0) +
               " mm deep, seen along the beam; the image plane is at elevation 0.";
    }
    words += beam.view.plane == BeamPlane::elevation ? ". Elevation plane through the beam\u2019s axis" : "";
    const bool bars = std::ranges::any_of(beams, near_zone_shown);
    return words +
           ". Orange: the active aperture, the beam\u2019s \u22126 dB edges (half of the amplitude at their depth)" +
           (bars ? ", and bars at the end of the near zone." : ".");
}

double half_width_of(const Beam& beam) {
    if (beam.view.plane == BeamPlane::depth) {
        return plane_half_width_m(beam);
    }
    const double depth_m = beam.depth_m.back();
    return std::clamp(needed_half_width_m(beam), 0.5 * min_aspect * depth_m,
                      std::max(0.5 * max_aspect * depth_m, beam.across_aperture.width_m));
}

bool some_follow(std::span<const Beam> beams) {
    return std::ranges::any_of(beams, &Beam::follows);
}

/// What 0 dB stands for: the highest pressure on the axis; in a plane of one depth, there. A receive
/// beam whose focus follows is highest at the face, where few elements take part, so its reference is at the depth of
/// comparison.
double reference_of(std::span<const Beam> beams, const Beam& beam) {
    if (beam.view.plane == BeamPlane::depth) {
        return beam.field.amplitude(beam.axis.point(plane_depth_m(beam)));
    }
    return some_follow(beams) && beam.compared_m > 0.0 ? beam.field.amplitude(beam.axis.point(beam.compared_m))
                                                       : beam.pressure[beam.peak()];
}

std::string scale_words(std::span<const Beam> beams) {
    const std::string axis = beams.size() > 1 ? "each beam\u2019s axis" : "the axis";
    if (beams.front().view.plane == BeamPlane::depth) {
        return "dB relative to the pressure on " + axis;
    }
    if (some_follow(beams)) {
        return "dB relative to the pressure on " + axis + ", " +
               plain(std::round(beams.front().compared_m / mm * 10.0) / 10.0) + " mm deep";
    }
    return "dB relative to the peak pressure on " + axis;
}

}  // namespace

void draw_beam_maps(std::span<const Beam> beams, double half_width_m, const std::filesystem::path& png) {
    double widest = half_width_m;
    for (const Beam& beam : beams) {
        widest = half_width_m > 0.0 ? half_width_m : std::max(widest, half_width_of(beam));
    }
    PageContent content;
    std::vector<Extent> extents;
    char letter = 'A';
    for (const Beam& beam : beams) {
        extents.push_back(map_extent(beam, widest));
        content.panels.push_back(
            {extents.back(), panel_title(beam), beams.size() > 1 ? std::string(1, letter++) : std::string()});
    }
    const BeamPlane plane = beams.front().view.plane;
    content.caption = caption(beams);
    content.caution = caution_of(true);
    content.scale = {0.0, range_dB};
    content.scale_name = scale_words(beams);
    if (plane == BeamPlane::elevation) {
        content.horizontal_name = "elevation (mm)";
    } else if (plane == BeamPlane::depth) {
        content.vertical_name = "elevation (mm)";
    }
    const PageLimits limits{.text_size = 28.0, .min_text_size = 22.0};
    const Fonts fonts = load_fonts();
    const PageLayout layout = lay_out(content, limits, fonts);
    Canvas canvas = draw_page(layout, content.scale, fonts);
    for (std::size_t i = 0; i < beams.size(); ++i) {
        const BeamMap map = compute_map(beams[i], extents[i]);
        const Raster raster = scan_convert(map.grid, map.amplitude, layout.pixels_per_m);
        draw_panel(canvas, layout.images[i], raster, content.scale, reference_of(beams, beams[i]));
        const PanelPlaces place(layout.images[i], shown_plane(beams[i]), extents[i], layout.pixels_per_m);
        draw_marks(canvas, layout.images[i], place, beams[i], widest);
    }
    write_png(png, canvas);
}

}  // namespace echoloom
