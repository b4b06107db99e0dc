#include "recon/measure/point_view.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include "recon/beamform/aperture.h"
#include "recon/beamform/beamform.h"
#include "recon/beamform/focus_cone.h"
#include "recon/beamform/zone_blend.h"
#include "recon/measure/profile.h"

namespace echoloom {
namespace {

Vec3 in_plane(const Vec3& place) {
    return {place.x(), 0.0, place.z()};
}

Vec3 lateral_axis(const Vec3& direction) {
    return Vec3(direction.z(), 0.0, -direction.x()).normalized();
}

/// The event whose line passes the point most closely, the point ahead of it.
const TransmitEvent& nearest_line(const RecordingInfo& info, const Vec3& point) {
    const auto distance = [&](const TransmitEvent& event) {
        const Vec3 ray = point - event.origin_m;
        const bool ahead = ray.dot(event.direction) > 0.0;
        return ahead ? std::abs(ray.dot(lateral_axis(event.direction))) : std::numeric_limits<double>::max();
    };
    return *std::ranges::min_element(info.events, {}, distance);
}

/// Depth along a line, less than 0, at which it meets the next line; nothing where they are parallel.
std::optional<double> apex_depth_m(const RecordingInfo& info, const TransmitEvent& line) {
    const TransmitEvent* next = nullptr;
    for (const TransmitEvent& other : info.events) {
        const int apart = std::abs(other.line - line.line);
        if (apart > 0 && (!next || apart < std::abs(next->line - line.line))) next = &other;
    }
    if (!next) return std::nullopt;
    const auto cross = [](const Vec3& a, const Vec3& b) { return a.x() * b.z() - a.z() * b.x(); };
    const double sine = cross(line.direction, next->direction);
    if (std::abs(sine) < 1e-9) return std::nullopt;
    return cross(next->origin_m - line.origin_m, next->direction) / sine;
}

bool is_sector(const Probe& probe, const Recipe& recipe) {
    const bool straight_down = recipe.min_x_m || recipe.x_step_m;
    return recipe.sector_half_angle_rad || (probe.kind == "phased" && !straight_down);
}

/// The column of an image of pixels through a point, as in recon/beamform/recipe.h.
ViewColumn pixel_column(const Probe& probe, const Recipe& recipe, const Vec3& point) {
    if (probe.radius_m > 0.0) {
        const FacePlace place = face_place(probe, face_lateral_m(probe, point));
        return {place.origin_m, place.normal};
    }
    if (is_sector(probe, recipe)) return {Vec3::Zero(), point.normalized()};
    return {Vec3(point.x(), 0.0, 0.0), Vec3::UnitZ()};
}

/// Depth along such a column at which it meets the others; nothing where they are parallel.
std::optional<double> pixel_apex_m(const Probe& probe, const Recipe& recipe) {
    if (probe.radius_m > 0.0) return -probe.radius_m;
    return is_sector(probe, recipe) ? std::optional(0.0) : std::nullopt;
}

/// Over the cone of rays of each event, for retrospective transmit focus; normalised to a sum of one where the recipe
/// says so.
std::vector<double> cone_weights(const RecordingInfo& info, const Recipe& recipe, const Vec3& pixel_m) {
    const double speed = assumed_sound_speed_m_s(info, recipe);
    std::vector<double> weights;
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        const double lateral = FocusCone(info, event, speed).lateral_share(pixel_m);
        weights.push_back(std::abs(lateral) < 0.5 ? window_value(recipe.cone_window, lateral, 2) : 0.0);
    }
    const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
    for (double& weight : weights) weight /= recipe.normalize_events && sum > 0.0 ? sum : 1.0;
    return weights;
}

bool has_zones(const PointView& view) {
    const Vec3& first = view.events.front()->focus_m;
    return std::ranges::any_of(view.events,
                               [&](const TransmitEvent* event) { return (event->focus_m - first).norm() > 1e-6; });
}

/// The blend of a line's focal zones at a depth, as the image makes it; events of one focus are averaged.
std::vector<double> zone_weights(const RecordingInfo& info, const Recipe& recipe, const PointView& view,
                                 double depth_m) {
    std::vector<double> weights(view.events.size(), 1.0 / static_cast<double>(view.events.size()));
    if (!has_zones(view)) return weights;
    RecordingInfo line;
    line.probe = info.probe;
    line.channels = info.channels;
    line.medium = info.medium;
    line.head = info.head;
    for (const TransmitEvent* event : view.events) line.events.push_back(*event);
    const LineSetting setting{recipe.normalize_depth, {depth_m},           assumed_sound_speed_m_s(info, recipe), 0.0,
                              Aperture(recipe, info), ReceiveFocus(recipe)};
    const ZoneGains gains = zone_gains(line, setting);
    for (std::size_t n = 0; n < weights.size(); ++n) weights[n] = gains.by_depth[n].front();
    return weights;
}

/// Weight at x, from -1/2 to +1/2 of the aperture, of weights at the centres of equal parts of it.
double custom_weight(std::span<const double> weights, double x) {
    if (std::abs(x) > 0.5) return 0.0;
    return value_at_index(weights, (x + 0.5) * static_cast<double>(weights.size()) - 0.5);
}

/// Shares of rings in a disc of the aperture's width, times the window at the radius that halves the share's area.
std::vector<double> ring_weights(const Probe& probe, const Recipe& recipe, std::span<const int> elements,
                                 double aperture_m, int count) {
    const double rim = 0.25 * aperture_m * aperture_m;
    std::vector<double> weights;
    for (const int element : elements) {
        const Element& ring = probe.elements[static_cast<std::size_t>(element)];
        const double inner = ring.inner_m * ring.inner_m, outer = ring.outer_m * ring.outer_m;
        const double share = std::clamp((rim - inner) / (outer - inner), 0.0, 1.0);
        const double place = std::sqrt(inner + 0.5 * share * (outer - inner)) / aperture_m;
        const double window = recipe.custom_weights.empty() ? window_value(recipe.window, place, count)
                                                            : custom_weight(recipe.custom_weights, place);
        weights.push_back(share > 1e-9 ? share * window : 0.0);
    }
    return weights;
}

struct ApertureSize {
    double width_m, pitch_m;
    int count;  ///< columns across it
};

/// A column counts by the share of its pitch inside the aperture, at the middle of that share; its rows are alike.
std::vector<double> column_weights(const Probe& probe, const Recipe& recipe, std::span<const int> elements,
                                   const ApertureSize& aperture, const Vec3& center_m) {
    const double center = face_lateral_m(probe, center_m);
    std::vector<double> weights;
    for (const int element : elements) {
        const double place = face_lateral_m(probe, probe.elements[static_cast<std::size_t>(element)].center_m) - center;
        const double low = std::max(place - 0.5 * aperture.pitch_m, -0.5 * aperture.width_m);
        const double high = std::min(place + 0.5 * aperture.pitch_m, 0.5 * aperture.width_m);
        const double middle = 0.5 * (low + high) / aperture.width_m;
        const double window = recipe.custom_weights.empty() ? window_value(recipe.window, middle, aperture.count)
                                                            : custom_weight(recipe.custom_weights, middle);
        weights.push_back(high - low > 1e-9 * aperture.pitch_m ? (high - low) / aperture.pitch_m * window : 0.0);
    }
    return weights;
}

}  // namespace

Vec3 PointView::moved_laterally(double distance_m) const {
    const Vec3 place = at_depth(depth_m);
    if (!std::isfinite(fan_radius_m)) return place + distance_m * lateral;
    const double angle = distance_m / fan_radius_m;
    return place + fan_radius_m * (std::sin(angle) * lateral - 2.0 * std::pow(std::sin(0.5 * angle), 2) * direction);
}

ViewColumn PointView::column_beside(double distance_m) const {
    if (!std::isfinite(fan_radius_m)) return {origin_m + distance_m * lateral, direction};
    const double angle = distance_m / fan_radius_m;
    const Vec3 turned = std::cos(angle) * direction + std::sin(angle) * lateral;
    return {at_depth(depth_m - fan_radius_m) + (fan_radius_m - depth_m) * turned, turned};
}

PointView view_of(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m) {
    if (info.events.empty()) throw InputError("the recording has no transmit events; theory needs at least one");
    const Vec3 point = in_plane(point_m);
    PointView view;
    const bool focused = info.events.front().kind == TransmitKind::focused;
    view.line_scan = focused && recipe.transmit_focus == TransmitFocus::as_transmitted;
    const TransmitEvent& nearest = nearest_line(info, point);
    for (const TransmitEvent& event : info.events) {
        if (!view.line_scan || event.line == nearest.line) view.events.push_back(&event);
    }
    if (focused) {
        view.origin_m = nearest.origin_m;
        view.direction = nearest.direction;
    } else {
        const ViewColumn column = pixel_column(info.probe, recipe, point);
        view.origin_m = column.origin_m;
        view.direction = column.direction;
    }
    view.lateral = lateral_axis(view.direction);
    view.depth_m = (point - view.origin_m).dot(view.direction);
    if (const auto apex = focused ? apex_depth_m(info, nearest) : pixel_apex_m(info.probe, recipe)) {
        view.fan_radius_m = view.depth_m - *apex;
    }
    return view;
}

double assumed_sound_speed_m_s(const RecordingInfo& info, const Recipe& recipe) {
    return recipe.sound_speed_m_s.value_or(info.medium.sound_speed_m_s);
}

double receive_focus_m(const Recipe& recipe, double depth_m) {
    if (recipe.focus == FocusMode::dynamic || recipe.focus_depths_m.empty()) return depth_m;
    return *std::min_element(recipe.focus_depths_m.begin(), recipe.focus_depths_m.end(),
                             [&](double a, double b) { return std::abs(a - depth_m) < std::abs(b - depth_m); });
}

std::vector<double> receive_weights(const RecordingInfo& info, const Recipe& recipe, std::span<const int> elements,
                                    const Vec3& center_m, double depth_m) {
    const double aperture = receive_aperture_m(recipe, info, depth_m);
    const double pitch = mean_pitch_m(info.probe);
    const int count = std::max(2, static_cast<int>(std::lround(aperture / pitch)));
    std::vector<double> weights =
        has_rings(info.probe) ? ring_weights(info.probe, recipe, elements, aperture, count)
                              : column_weights(info.probe, recipe, elements, {aperture, pitch, count}, center_m);
    const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
    if (recipe.normalize_depth && sum > 0.0) {
        for (double& weight : weights) weight /= sum;
    }
    return weights;
}

std::vector<double> event_weights(const RecordingInfo& info, const Recipe& recipe, const PointView& view,
                                  const Vec3& pixel_m) {
    if (view.line_scan) return zone_weights(info, recipe, view, (pixel_m - view.origin_m).dot(view.direction));
    if (view.events.front()->kind == TransmitKind::focused) return cone_weights(info, recipe, pixel_m);
    std::vector<double> weights(view.events.size(), 1.0);
    if (view.events.front()->kind == TransmitKind::element) {
        if (recipe.transmit_weights == TransmitWeights::equal) return weights;
        std::vector<int> firing;
        for (const TransmitEvent* event : view.events) {
            const auto loudest = std::max_element(event->weight.begin(), event->weight.end());
            firing.push_back(static_cast<int>(loudest - event->weight.begin()));
        }
        const double depth = (pixel_m - view.origin_m).dot(view.direction);
        return receive_weights(info, recipe, firing, pixel_column(info.probe, recipe, pixel_m).origin_m, depth);
    }
    if (recipe.angle_window) {
        // The window lies over the set of angles or sources, in whatever order they were transmitted.
        std::vector<std::size_t> order(view.events.size());
        std::iota(order.begin(), order.end(), std::size_t{0});
        std::ranges::stable_sort(order, {}, [&](std::size_t n) {
            const TransmitEvent& event = *view.events[n];
            return event.kind == TransmitKind::diverging ? face_lateral_m(info.probe, event.origin_m)
                                                         : event.direction.x();
        });
        const std::vector<double> window = window_at_centers(*recipe.angle_window, static_cast<int>(order.size()));
        for (std::size_t rank = 0; rank < order.size(); ++rank) weights[order[rank]] = window[rank];
    }
    return weights;
}

}  // namespace echoloom
