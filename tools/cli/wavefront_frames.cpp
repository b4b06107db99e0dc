// The front in the image plane, instant by instant, with the wavelets it is made of.

#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/image/canvas.h"
#include "recon/image/gif.h"
#include "recon/image/page.h"
#include "recon/image/page_layout.h"
#include "recon/image/png.h"
#include "recon/image/scan_conversion.h"
#include "sim/base/progress.h"
#include "sim/base/text.h"
#include "sim/engine/pulsed_field.h"
#include "tools/cli/front_movie.h"
#include "tools/cli/output.h"
#include "tools/cli/wavefronts.h"

namespace echoloom {

namespace {

using std::numbers::pi;

constexpr double mm = 1e-3;
constexpr double us = 1e-6;
constexpr std::size_t wavelets = 9;          ///< drawn, about
constexpr GreyScale signed_scale{1.0, 2.0};  ///< of the signed square root of pressure, white for +1

std::vector<std::size_t> firing(const Front& front) {
    std::vector<std::size_t> elements;
    for (std::size_t e = 0; e < front.probe.elements.size(); ++e) {
        if (front.event.weight[e] != 0.0) {
            elements.push_back(e);
        }
    }
    return elements;
}

/// A point of the array in the room.
Vec3 in_room(const Front& front, const Vec3& point_m) {
    if (!front.head) {
        return point_m;
    }
    const HeadPose pose = head_pose(*front.head, front.event.head_angle_rad);
    return pose.origin_m + point_m.x() * pose.lateral + Vec3(0.0, point_m.y(), 0.0) + point_m.z() * pose.normal;
}

/// Ends of an element in the image plane.
std::pair<Vec3, Vec3> ends_of(const Front& front, const Element& element) {
    if (element.is_ring()) {
        return {in_room(front, Vec3(-element.outer_m, 0, 0)), in_room(front, Vec3(element.outer_m, 0, 0))};
    }
    const Vec3 half = 0.5 * element.width_m * Vec3(element.normal.z(), 0.0, -element.normal.x());
    const Vec3 middle(element.center_m.x(), 0.0, element.center_m.z());
    return {in_room(front, middle - half), in_room(front, middle + half)};
}

double chosen_depth_m(const Front& front, const FrontView& view) {
    const double ahead = front.focus_m > 0.0 ? 1.35 * front.focus_m : 40.0 * mm;
    return view.depth_m > 0.0 ? view.depth_m : ahead * std::max(0.3, front.event.direction.z());
}

Extent chosen_extent(const Front& front, const FrontView& view) {
    const double depth_m = chosen_depth_m(front, view);
    double left = 1e300;
    double right = -1e300;
    double top = 0.0;
    for (const std::size_t e : firing(front)) {
        const auto [from, to] = ends_of(front, front.probe.elements[e]);
        left = std::min({left, from.x(), to.x()});
        right = std::max({right, from.x(), to.x()});
        top = std::min({top, from.z(), to.z()});
    }
    const Vec3 end = front.event.origin_m + depth_m / std::max(0.3, front.event.direction.z()) * front.event.direction;
    const double margin = 0.12 * (right - left);
    if (view.width_m > 0.0) {
        const double middle = 0.5 * (std::min(left, end.x()) + std::max(right, end.x()));
        return {middle - 0.5 * view.width_m, middle + 0.5 * view.width_m, top - 1.2 * mm, depth_m};
    }
    return {std::min(left, end.x()) - margin, std::max(right, end.x()) + margin, top - 1.2 * mm, depth_m};
}

/// From just after the first element fires until the front is a third beyond the focus, or at the foot of the picture.
double first_instant_s(const Front& front) {
    double first = 1e300;
    for (const std::size_t e : firing(front)) {
        first = std::min(first, front.event.delay_s[e]);
    }
    return first;
}
double meeting_s(const Front& front, double depth_m) {
    const double path_m =
        front.focus_m > 0.0 ? front.focus_m : 0.75 * depth_m / std::max(0.3, front.event.direction.z());
    return path_m / front.medium.sound_speed_m_s;
}

/// While elements fire, four on the way to the focus, and one beyond.
std::vector<double> chosen_instants(const Front& front, const FrontView& view, double depth_m) {
    if (!view.instants_s.empty()) {
        return view.instants_s;
    }
    const double first = first_instant_s(front);
    double last = first;
    for (const std::size_t e : firing(front)) {
        last = std::max(last, front.event.delay_s[e]);
    }
    const double half_fired = std::max(0.5 * (first + last), first + 0.7 / front.probe.center_Hz);
    const double meeting = meeting_s(front, depth_m);
    std::vector<double> instants{half_fired};
    for (const double share : {0.25, 0.5, 0.75, 1.0, 1.25}) {
        instants.push_back(half_fired + share * (meeting - half_fired));
    }
    return instants;
}

std::vector<double> chosen_frames(const Front& front, const FrontView& view, double depth_m) {
    const double first = first_instant_s(front);
    const double meeting = meeting_s(front, depth_m);
    std::vector<double> instants;
    instants.reserve(static_cast<std::size_t>(view.frames));
    for (int frame = 0; frame < view.frames; ++frame) {
        instants.push_back(first + 1.3 * (meeting - first) * frame / std::max(1, view.frames - 1));
    }
    return instants;
}

/// White above rest, black below, by the square root, so that wavelets show beside the focus.
void draw_pressure(Canvas& canvas, const Rect& panel, const Movie& movie, std::size_t instant, double pixels_per_m) {
    for (int y = 0; y < panel.height; ++y) {
        for (int x = 0; x < panel.width; ++x) {
            const double pressure = pressure_at(movie, (x + 0.5) / pixels_per_m / movie.step_m,
                                                (y + 0.5) / pixels_per_m / movie.step_m, instant);
            Colour colour = outside_colour;
            if (!std::isnan(pressure)) {
                const double share = std::sqrt(std::abs(pressure) / movie.highest);
                colour = grey(grey_level(signed_scale, pressure < 0.0 ? -share : share));
            }
            canvas.set(panel.x + x, panel.y + y, colour);
        }
    }
}

/// Between the ends of its face and those of its back, a gap to its neighbours left.
void draw_element(Canvas& canvas, const Rect& panel, std::pair<Position, Position> face,
                  std::pair<Position, Position> back, Colour colour) {
    const auto middle = [](const std::pair<Position, Position>& ends, double share) {
        return Position{ends.first.x + share * (ends.second.x - ends.first.x),
                        ends.first.y + share * (ends.second.y - ends.first.y)};
    };
    const auto between = [](const Position& a, const Position& b, double share) {
        return Position{a.x + share * (b.x - a.x), a.y + share * (b.y - a.y)};
    };
    const double width = 0.8 * std::hypot(face.second.x - face.first.x, face.second.y - face.first.y);
    const double height = std::hypot(back.first.x - face.first.x, back.first.y - face.first.y);
    // A stroke with round ends along the longer side.
    if (width < height) {
        const Position front = middle(face, 0.5);
        const Position rear = middle(back, 0.5);
        const double end = 0.5 * width / height;
        const std::vector<Position> stroke{between(front, rear, end), between(front, rear, 1.0 - end)};
        canvas.stroke(stroke, width, colour, panel);
        return;
    }
    const double end = 0.1 + 0.4 * height / width;
    const std::vector<Position> stroke{between(middle(face, end), middle(back, end), 0.5),
                                       between(middle(face, 1.0 - end), middle(back, 1.0 - end), 0.5)};
    canvas.stroke(stroke, height, colour, panel);
}

/// Elements, orange once they have fired, and the wavelets of some.
void draw_array(Canvas& canvas, const Rect& panel, const Front& front, const Movie& movie, std::size_t instant,
                double pixels_per_m) {
    const auto place = [&](const Vec3& point) {
        return Position{panel.x + (point.x() - movie.extent.min_x_m) * pixels_per_m,
                        panel.y + (point.z() - movie.extent.min_z_m) * pixels_per_m};
    };
    const std::vector<std::size_t> elements = firing(front);
    const std::size_t stride = std::max<std::size_t>(1, (elements.size() + wavelets / 2) / wavelets);
    for (std::size_t i = 0; i < elements.size(); ++i) {
        const Element& element = front.probe.elements[elements[i]];
        const double since_s = movie.instants_s[instant] - front.event.delay_s[elements[i]];
        const bool shown = i % stride == (elements.size() - 1) % stride / 2;
        const auto [from, to] = ends_of(front, element);
        const Vec3 normal = front.head ? front.event.direction : element.normal;
        const Vec3 body = 0.8 * mm * normal;  // behind its face
        draw_element(canvas, panel, {place(from), place(to)}, {place(from - body), place(to - body)},
                     since_s >= 0.0 ? mark_colour : ink_colour);
        if (since_s <= 0.0 || !shown || element.is_ring()) {
            continue;
        }
        const double radius = since_s * front.medium.sound_speed_m_s;
        const Vec3 middle = 0.5 * (from + to);
        const Vec3 aside(normal.z(), 0.0, -normal.x());
        std::vector<Position> arc;
        for (int degree = -80; degree <= 80; degree += 2) {
            const double angle = degree * pi / 180.0;
            arc.push_back(place(middle + radius * (std::cos(angle) * normal + std::sin(angle) * aside)));
        }
        canvas.stroke(arc, 1.6, mark_colour, panel);
    }
    if (front.focus_m > 0.0) {  // a cross where the wavelets are to meet
        const Position focus = place(front.event.focus_m);
        const double arm = 1.1 * mm * pixels_per_m;
        for (const double side : {-1.0, 1.0}) {
            const std::vector<Position> stroke{{focus.x - arm, focus.y - side * arm},
                                               {focus.x + arm, focus.y + side * arm}};
            canvas.stroke(stroke, 2.5, mark_colour, panel);
        }
    }
}

std::string time_words(double instant_s) {
    std::string words = plain(std::round(instant_s / us * 10.0) / 10.0);
    if (words.find('.') == std::string::npos) {
        words += ".0";
    }
    if (words.front() == '-') {
        words = "\u2212" + words.substr(1);
    }
    return words + "\u00a0\u00b5s";
}

PageContent page_content(const Front& front, const Extent& extent, std::span<const double> instants_s) {
    PageContent content;
    char letter = 'A';
    for (const double instant : instants_s) {
        content.panels.push_back(
            {extent, time_words(instant), instants_s.size() > 1 ? std::string(1, letter++) : std::string()});
    }
    content.heading = "Wavelets add up to one front";
    const bool rings = front.probe.elements.front().is_ring();
    content.caption = front.words + ". Times from when the front passes the middle of the face. " +
                      (rings ? "Orange: rings that have fired" : "Orange: elements that have fired, wavelets of some") +
                      (front.focus_m > 0.0 ? ", and a cross at the focus." : ".");
    content.caution = caution_of(true);
    content.scale = signed_scale;
    content.scale_name = "signed square root of pressure (relative, peak = 1)";
    return content;
}

void draw_panels_of(const Front& front, const Movie& movie, const std::filesystem::path& png) {
    const PageContent content = page_content(front, movie.extent, movie.instants_s);
    const PageLimits limits{.text_size = 28.0, .min_text_size = 22.0, .max_pixels_per_mm = 20.0};
    const Fonts fonts = load_fonts();
    const PageLayout layout = lay_out(content, limits, fonts);
    Canvas canvas = draw_page(layout, content.scale, fonts);
    for (std::size_t i = 0; i < movie.instants_s.size(); ++i) {
        draw_pressure(canvas, layout.images[i], movie, i, layout.pixels_per_m);
        draw_array(canvas, layout.images[i], front, movie, i, layout.pixels_per_m);
    }
    write_png(png, canvas);
}

void draw_animation_of(const Front& front, const Movie& movie, bool quiet, const std::filesystem::path& gif) {
    constexpr int hundredths = 8;
    constexpr int rest = 12;  ///< frames that the last one stays
    const PageLimits limits{.max_width = 1280,
                            .max_height = 960,
                            .text_size = 20.0,
                            .min_text_size = 16.0,
                            .max_pixels_per_mm = 25.0,
                            .min_longest_side = 600.0};
    const Fonts fonts = load_fonts();
    std::optional<Animation> animation;
    Progress progress("frames", movie.instants_s.size(), quiet);
    for (std::size_t i = 0; i < movie.instants_s.size(); ++i) {
        const PageContent content = page_content(front, movie.extent, {&movie.instants_s[i], 1});
        const PageLayout layout = lay_out(content, limits, fonts);
        Canvas canvas = draw_page(layout, content.scale, fonts);
        draw_pressure(canvas, layout.images[0], movie, i, layout.pixels_per_m);
        draw_array(canvas, layout.images[0], front, movie, i, layout.pixels_per_m);
        if (!animation) {
            animation.emplace(canvas.width(), canvas.height(), mark_colour, hundredths);
        }
        animation->add(canvas, i + 1 == movie.instants_s.size() ? rest : 1);
        progress.advance();
    }
    animation->write(gif);
}

/// What arrives at the focus from all together, and from each element alone.
void measure_focus(const Front& front, FrontFigures& figures) {
    const std::vector<std::size_t> elements = firing(front);
    double largest = 0.0;
    for (const std::size_t e : elements) {
        largest = std::max(largest, std::abs(front.event.weight[e]));
        figures.share += std::abs(front.event.weight[e]);
    }
    figures.share /= largest;
    if (front.focus_m <= 0.0) {
        return;
    }
    const PulsedField field(front.probe, front.head, front.event.head_angle_rad, front.medium);
    const ElementDrive all{front.event.weight, front.event.delay_s};
    figures.arrival_s = field.arrival_s(front.event.focus_m, all);
    double alone = 0.0;
    for (const std::size_t e : elements) {
        ElementDrive one{std::vector<double>(all.weight.size(), 0.0), all.delay_s};
        one.weight[e] = all.weight[e];
        alone += field.peak(front.event.focus_m, one);
    }
    figures.gain = field.peak(front.event.focus_m, all) / alone * figures.share;
}

}  // namespace

FrontFigures draw_front(const Front& front, const FrontView& view, const std::optional<std::filesystem::path>& panels,
                        const std::optional<std::filesystem::path>& animation) {
    const Extent extent = chosen_extent(front, view);
    FrontFigures figures;
    figures.firing = firing(front).size();
    figures.instants_s = chosen_instants(front, view, extent.max_z_m);
    measure_focus(front, figures);
    if (panels) {
        draw_panels_of(front, compute_movie(front, extent, figures.instants_s, view.quiet), *panels);
    }
    if (animation) {
        draw_animation_of(front, compute_movie(front, extent, chosen_frames(front, view, extent.max_z_m), view.quiet),
                          view.quiet, *animation);
    }
    return figures;
}

}  // namespace echoloom
