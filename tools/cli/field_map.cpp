// Beam maps in dB, side by side on one page.

#include <algorithm>
#include <cmath>
#include <limits>

#include "recon/image/canvas.h"
#include "recon/image/description.h"
#include "recon/image/page.h"
#include "recon/image/page_layout.h"
#include "recon/image/png.h"
#include "recon/image/scan_conversion.h"
#include "sim/base/text.h"
#include "tools/cli/field.h"

namespace echoloom {

namespace {

constexpr double range_dB = 40.0;
constexpr double most_samples = 360.0;  ///< along the longer side of a map
constexpr double least_aspect = 0.22;   ///< of a panel's width to its height, so that its title has room
constexpr double most_aspect = 1.2;

/// Half the width that shows what is worth seeing: the aperture and the beam to its widest.
double needed_half_width_m(const Beam& beam) {
    double widest = 0.8 * beam.aperture.width_m;
    for (const auto& edges : beam.edges) {
        if (edges) {
            widest = std::max({widest, 1.5 * edges->right_m, -1.5 * edges->left_m});
        }
    }
    return widest;
}

Extent map_extent(const Beam& beam, double half_width_m) {
    const Vec3 end = beam.axis.point(beam.depth_m.back());
    const double least_x = std::min(beam.axis.origin_m.x(), end.x());
    const double most_x = std::max(beam.axis.origin_m.x(), end.x());
    return {least_x - half_width_m, most_x + half_width_m, std::min(0.0, beam.axis.origin_m.z()), end.z()};
}

/// Where the field is computed for a point of the map: no nearer to the face than a quarter wavelength, where every
/// element would stand out by itself; not at all behind the face.
std::optional<Vec3> computed_place(const Beam& beam, const Vec3& point_m) {
    const double nearest = 0.25 * beam.field.wavelength_m();
    const Vec3 centre = beam.face_radius_m > 0.0 ? Vec3(0, 0, -beam.face_radius_m) : Vec3(Vec3::Zero());
    Vec3 normal = Vec3::UnitZ();
    double height = point_m.z();
    if (beam.face_radius_m > 0.0) {
        normal = (point_m - centre).normalized();
        height = (point_m - centre).norm() - beam.face_radius_m;
    } else if (beam.aperture.shape == BeamAperture::Shape::disc) {  // on a head that may look aside
        normal = beam.axis.direction;
        height = (point_m - beam.axis.origin_m).dot(normal);
    }
    if (height < -nearest) {
        return std::nullopt;
    }
    return point_m + std::max(0.0, nearest - height) * normal;
}

struct BeamMap {
    CartesianGrid grid;
    std::vector<float> amplitude;
};

BeamMap compute_map(const Beam& beam, const Extent& extent) {
    const double step = std::max(extent.width_m(), extent.height_m()) / most_samples;
    const auto spread = [&](double least, double length) {
        const auto count = static_cast<std::size_t>(std::ceil(length / step)) + 1;
        std::vector<double> places;
        for (std::size_t i = 0; i < count; ++i) {
            places.push_back(least + length * static_cast<double>(i) / static_cast<double>(count - 1));
        }
        return places;
    };
    BeamMap map{{spread(extent.least_x_m, extent.width_m()), spread(extent.least_z_m, extent.height_m())}, {}};
    std::vector<Vec3> points;
    std::vector<std::size_t> index;
    map.amplitude.assign(map.grid.x_m.size() * map.grid.depth_m.size(), std::numeric_limits<float>::quiet_NaN());
    std::size_t at = 0;
    for (const double x : map.grid.x_m) {
        for (const double z : map.grid.depth_m) {
            if (const auto place = computed_place(beam, Vec3(x, 0.0, z))) {
                points.push_back(*place);
                index.push_back(at);
            }
            ++at;
        }
    }
    const std::vector<double> amplitudes = beam.field.amplitudes(points);
    for (std::size_t i = 0; i < index.size(); ++i) {
        map.amplitude[index[i]] = static_cast<float>(amplitudes[i]);
    }
    return map;
}

/// From metres in the image plane to pixels of a panel.
class PanelPlaces {
  public:
    PanelPlaces(const Rect& panel, const Extent& extent, double pixels_per_m)
        : panel_(panel), extent_(extent), pixels_per_m_(pixels_per_m) {}
    Position operator()(const Vec3& point_m) const {
        return {panel_.x + (point_m.x() - extent_.least_x_m) * pixels_per_m_,
                panel_.y + (point_m.z() - extent_.least_z_m) * pixels_per_m_};
    }

  private:
    Rect panel_;
    Extent extent_;
    double pixels_per_m_;
};

bool near_zone_shown(const Beam& beam) {
    return beam.near_zone_m && *beam.near_zone_m < beam.depth_m.back();
}

/// What sends, the edges of the beam at half amplitude, and the length of the near zone.
void draw_marks(Canvas& canvas, const Rect& panel, const PanelPlaces& place, const Beam& beam, double half_width_m) {
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

}  // namespace

void draw_beam_maps(std::span<const Beam> beams, double half_width_m, const std::filesystem::path& png) {
    const double depth_m = beams.front().depth_m.back();
    PageContent content;
    std::vector<double> half_widths;
    char letter = 'A';
    for (const Beam& beam : beams) {
        const double wanted = std::clamp(needed_half_width_m(beam), 0.5 * least_aspect * depth_m,
                                         std::max(0.5 * most_aspect * depth_m, beam.aperture.width_m));
        half_widths.push_back(half_width_m > 0.0 ? half_width_m : wanted);
    }
    const double widest = *std::ranges::max_element(half_widths);
    for (const Beam& beam : beams) {
        content.panels.push_back(
            {map_extent(beam, widest), panel_title(beam), beams.size() > 1 ? std::string(1, letter++) : std::string()});
    }
    const bool unfocused = std::ranges::all_of(beams, &Beam::unfocused);
    const bool bars = std::ranges::any_of(beams, [](const Beam& beam) { return near_zone_shown(beam); });
    content.caption = std::string("Transmitted continuous wave") + (unfocused ? ", all elements at once" : "") +
                      ". Orange: what sends, the beam\u2019s edges at half of the amplitude at their depth" +
                      (bars ? ", and bars at the length of the near zone." : ".");
    content.caution = caution(true);
    content.scale = {0.0, range_dB};
    content.scale_name = beams.size() > 1 ? "dB relative to the highest pressure on each beam\u2019s axis"
                                          : "dB relative to the highest pressure on the axis";
    const PageLimits limits{.text_size = 28.0, .least_text_size = 22.0};
    const Fonts fonts = load_fonts();
    const PageLayout layout = lay_out(content, limits, fonts);
    Canvas canvas = draw_page(layout, content.scale, fonts);
    for (std::size_t i = 0; i < beams.size(); ++i) {
        const Extent& extent = content.panels[i].extent;
        const BeamMap map = compute_map(beams[i], extent);
        const Raster raster = scan_convert(map.grid, map.amplitude, layout.pixels_per_m);
        draw_panel(canvas, layout.images[i], raster, content.scale, beams[i].pressure[beams[i].peak()]);
        draw_marks(canvas, layout.images[i], PanelPlaces(layout.images[i], extent, layout.pixels_per_m), beams[i],
                   widest);
    }
    write_png(png, canvas);
}

}  // namespace echoloom
