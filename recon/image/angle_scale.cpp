#include "recon/image/angle_scale.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "recon/image/axis.h"

namespace echoloom {

namespace {

constexpr double degree = std::numbers::pi / 180.0;

/// Labels each `step` degrees with `parts` parts between them: the divisions of a protractor.
struct Division {
    double step;
    int parts;
};
constexpr std::array<Division, 9> divisions{
    {{1.0, 2}, {2.0, 2}, {5.0, 5}, {10.0, 10}, {15.0, 3}, {20.0, 4}, {30.0, 6}, {45.0, 3}, {90.0, 6}}};

/// Pixels the deep end is long.
double length_of(const FanEdge& fan, double pixels_per_m) {
    double length_m = 0.0;
    for (std::size_t i = 1; i < fan.size(); ++i) {
        length_m += std::hypot(fan[i].x_m - fan[i - 1].x_m, fan[i].z_m - fan[i - 1].z_m);
    }
    return length_m * pixels_per_m;
}

/// Where the line at an angle ends, between its neighbours.
LineEnd end_at(const FanEdge& fan, double angle_rad) {
    auto next = std::ranges::lower_bound(fan, angle_rad, {}, &LineEnd::angle_rad);
    next = std::clamp(next, fan.begin() + 1, fan.end() - 1);
    const LineEnd& after = *next;
    const LineEnd& before = *(next - 1);
    const double share = (angle_rad - before.angle_rad) / (after.angle_rad - before.angle_rad);
    return {angle_rad, std::lerp(before.x_m, after.x_m, share), std::lerp(before.z_m, after.z_m, share)};
}

}  // namespace

std::vector<AngleMark> angle_marks(const FanEdge& fan, const Extent& extent, double pixels_per_m, const Font& font,
                                   double text_size) {
    if (fan.size() < 2) {
        return {};
    }
    const double min_deg = fan.front().angle_rad / degree;
    const double max_deg = fan.back().angle_rad / degree;
    const double pixels_per_deg = length_of(fan, pixels_per_m) / (max_deg - min_deg);
    const auto* division = std::ranges::find_if(
        divisions, [&](const Division& tried) { return tried.step * pixels_per_deg >= 3.4 * text_size; });
    if (division == divisions.end()) {
        return {};
    }
    const bool fine = division->step / division->parts * pixels_per_deg >= 0.3 * text_size;
    const int parts = fine ? division->parts : 1;
    const double part_deg = division->step / parts;

    std::vector<AngleMark> marks;
    int labels = 0;
    constexpr double rounding = 1e-6;
    const auto first = std::llround(std::ceil(min_deg / part_deg - rounding));
    const auto last = std::llround(std::floor(max_deg / part_deg + rounding));
    for (auto k = first; k <= last; ++k) {
        const double angle_deg = static_cast<double>(k) * part_deg;
        const LineEnd end = end_at(fan, angle_deg * degree);
        const Position outward{std::sin(end.angle_rad), std::cos(end.angle_rad)};
        const double x = (end.x_m - extent.min_x_m) * pixels_per_m;
        const double y = (end.z_m - extent.min_z_m) * pixels_per_m;
        const bool labelled = k % parts == 0;
        const double gap = 0.1 * text_size;
        const double length = (labelled ? 0.42 : 2 * std::abs(k % parts) == parts ? 0.3 : 0.18) * text_size;
        const auto beyond = [&](double pixels) { return Position{x + pixels * outward.x, y + pixels * outward.y}; };
        AngleMark mark{beyond(gap), beyond(gap + length), "", {}};
        if (labelled) {
            ++labels;
            mark.label = tick_label(angle_deg, 1.0) + "\u00b0";
            const int width = static_cast<int>(std::ceil(font.text_width(mark.label, text_size)));
            const int height = font.line_height(text_size);
            // Digits are lower than their line's box, so the box may come nearer than its corners say.
            const double half = 0.5 * (std::abs(outward.x) * width + std::abs(outward.y) * 0.8 * text_size);
            const Position centre = beyond(gap + length + 0.2 * text_size + half);
            mark.box = {static_cast<int>(std::lround(centre.x - 0.5 * width)),
                        static_cast<int>(std::lround(centre.y - 0.5 * height)), width, height};
        }
        marks.push_back(mark);
    }
    return labels < 2 ? std::vector<AngleMark>{} : marks;
}

}  // namespace echoloom
