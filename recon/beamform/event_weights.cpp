#include "recon/beamform/event_weights.h"

#include <algorithm>
#include <numeric>

#include "recon/beamform/array_places.h"
#include "sim/array/face.h"

namespace echoloom {
namespace {

/// The window at the centres of equal parts, one part per angle or virtual source, in order.
std::vector<float> angle_weights(const RecordingInfo& info, const Window& window) {
    std::vector<std::size_t> order(info.events.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, {}, [&](std::size_t event) {
        const TransmitEvent& transmitted = info.events[event];
        return transmitted.kind == TransmitKind::diverging ? face_lateral_m(info.probe, transmitted.origin_m)
                                                           : transmitted.direction.x();
    });
    const std::vector<double> values = window_at_centers(window, static_cast<int>(order.size()));
    std::vector<float> weights(order.size());
    for (std::size_t rank = 0; rank < order.size(); ++rank) {
        weights[order[rank]] = static_cast<float>(values[rank]);
    }
    return weights;
}

}  // namespace

EventWeights::EventWeights(const RecordingInfo& info, const Recipe& recipe, ScanKind kind) {
    if (kind == ScanKind::retrospective) {
        cone_window_.emplace(recipe.cone_window);
        return;
    }
    if (kind == ScanKind::full_matrix && recipe.transmit_weights == TransmitWeights::as_receive) {
        const ElementPlaces places(info.probe);
        for (std::size_t event = 0; event < info.events.size(); ++event) {
            firing_lateral_m_.push_back(places.lateral_m[firing_element(info, event)]);
        }
        return;
    }
    fixed_ =
        recipe.angle_window ? angle_weights(info, *recipe.angle_window) : std::vector<float>(info.events.size(), 1.0F);
    const float sum = std::accumulate(fixed_.begin(), fixed_.end(), 0.0F);
    if (recipe.normalize_depth && sum > 0.0F) {
        for (float& weight : fixed_) {
            weight /= sum;
        }
    }
}

}  // namespace echoloom
