#include "recon/measure/point_view.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "recon/beamform/aperture.h"
#include "recon/beamform/beamform.h"
#include "recon/measure/profile.h"

namespace echoloom {
namespace {

Vec3 in_plane(const Vec3& place) {
    return {place.x(), 0.0, place.z()};
}

Vec3 across_of(const Vec3& direction) {
    return Vec3(direction.z(), 0.0, -direction.x()).normalized();
}

/// Weight at x, from -1/2 to +1/2 of the aperture, of weights at the centres of equal parts of it.
double custom_weight(std::span<const double> weights, double x) {
    if (std::abs(x) > 0.5) return 0.0;
    return value_at_index(weights, (x + 0.5) * static_cast<double>(weights.size()) - 0.5);
}

}  // namespace

PointView view_of(const RecordingInfo& info, const Vec3& point_m) {
    if (info.events.empty()) throw InputError("the recording has no transmit events; theory needs at least one");
    const Vec3 point = in_plane(point_m);
    PointView view;
    view.line_scan = info.events.front().kind == TransmitKind::focused;
    if (!view.line_scan) {
        for (const TransmitEvent& event : info.events) view.events.push_back(&event);
        view.origin_m = {point.x(), 0.0, 0.0};
        view.depth_m = point.z();
        return view;
    }
    const auto distance = [&](const TransmitEvent& event) {
        return std::abs((point - event.origin_m).dot(across_of(event.direction)));
    };
    const auto nearest = std::min_element(info.events.begin(), info.events.end(),
                                          [&](const auto& a, const auto& b) { return distance(a) < distance(b); });
    view.events = {&*nearest};
    view.origin_m = nearest->origin_m;
    view.direction = nearest->direction;
    view.across = across_of(nearest->direction);
    view.depth_m = (point - nearest->origin_m).dot(nearest->direction);
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
    std::vector<double> weights;
    for (const int element : elements) {
        const double x = info.probe.elements[static_cast<std::size_t>(element)].center_m.x() - center_m.x();
        // An element counts by the share of its pitch inside the aperture, at the middle of that share.
        const double low = std::max(x - 0.5 * pitch, -0.5 * aperture);
        const double high = std::min(x + 0.5 * pitch, 0.5 * aperture);
        const double middle = 0.5 * (low + high) / aperture;
        const double window = recipe.custom_weights.empty() ? window_value(recipe.window, middle, count)
                                                            : custom_weight(recipe.custom_weights, middle);
        weights.push_back(high - low > 1e-9 * pitch ? (high - low) / pitch * window : 0.0);
    }
    const double sum = std::accumulate(weights.begin(), weights.end(), 0.0);
    if (recipe.normalize_depth && sum > 0.0) {
        for (double& weight : weights) weight /= sum;
    }
    return weights;
}

std::vector<double> event_weights(const RecordingInfo& info, const Recipe& recipe, const PointView& view,
                                  const Vec3& pixel_m) {
    std::vector<double> weights(view.events.size(), 1.0);
    if (view.line_scan) return weights;
    if (view.events.front()->kind == TransmitKind::element) {
        if (recipe.transmit_weights == TransmitWeights::equal) return weights;
        std::vector<int> firing;
        for (const TransmitEvent* event : view.events) {
            const auto loudest = std::max_element(event->weight.begin(), event->weight.end());
            firing.push_back(static_cast<int>(loudest - event->weight.begin()));
        }
        return receive_weights(info, recipe, firing, Vec3(pixel_m.x(), 0.0, 0.0), pixel_m.z());
    }
    if (recipe.angle_window) {
        // The window lies over the set of angles, in whatever order they were sent.
        std::vector<std::size_t> order(view.events.size());
        std::iota(order.begin(), order.end(), std::size_t{0});
        std::ranges::stable_sort(order, {}, [&](std::size_t n) { return view.events[n]->direction.x(); });
        const std::vector<double> window = window_at_centers(*recipe.angle_window, static_cast<int>(order.size()));
        for (std::size_t rank = 0; rank < order.size(); ++rank) weights[order[rank]] = window[rank];
    }
    return weights;
}

}  // namespace echoloom
