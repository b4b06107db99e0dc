#include "recon/measure/slice_width.h"

#include <algorithm>
#include <cmath>

#include "recon/measure/echo_patch.h"

namespace echoloom {
namespace {

/// Samples from the plane to the farthest elevation: this many per wavelength x depth / height, the finest ripple
/// between two waves from the array's edges, within these limits.
constexpr double elevation_samples = 6.0;
constexpr double min_elevations = 40.0, max_elevations = 200.0;

double elevation_step(const WaveScene& scene, double reach) {
    double height = 0.0;
    for (const Element& element : scene.info.probe.elements) {
        height = std::max(height, 2.0 * std::abs(element.center_m.y()) + element.height_m);
    }
    const double ripple = scene.info.probe.wavelength_m(scene.speed) * scene.view.depth_m / height;
    return reach / std::ceil(std::clamp(elevation_samples * reach / ripple, min_elevations, max_elevations));
}

/// Of the many events that make up a pixel, this many stand for all: elevation affects each nearly alike.
constexpr std::size_t max_events = 8;

/// Holds the pixel still and keeps some of the events that contribute there, spread over all of them.
void thin_events(WaveScene& scene) {
    if (scene.view.line_scan) return;
    const auto weights = event_weights(scene.info, scene.recipe, scene.view, scene.view.at_depth(scene.shown_depth));
    std::vector<std::size_t> counting;
    for (std::size_t n = 0; n < weights.size(); ++n) {
        if (weights[n] != 0.0) counting.push_back(n);
    }
    const std::size_t kept = std::min(max_events, counting.size());
    std::vector<const TransmitEvent*> events;
    scene.rest_weights.clear();
    for (std::size_t n = 0; n < kept; ++n) {
        const std::size_t chosen = counting[(2 * n + 1) * counting.size() / (2 * kept)];
        events.push_back(scene.view.events[chosen]);
        scene.rest_weights.push_back(weights[chosen]);
    }
    if (kept > 0) scene.view.events = std::move(events);
}

}  // namespace

Profile elevation_profile(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m,
                          const PredictionTerms& terms) {
    PredictionTerms of_point = terms;
    of_point.wire_length_m = 0.0;
    WaveScene scene = make_scene(info, recipe, point_m, of_point);
    if (!std::isfinite(scene.lateral_theory) || !(scene.view.depth_m > 0.0)) return {};
    thin_events(scene);
    const PatchReach reach{0.0, std::min(elevation_reach_m(scene), 0.9 * scene.view.depth_m)};
    const Frequencies frequencies = frequencies_for(scene, reach);
    const double step = elevation_step(scene, reach.elevation_m);
    const auto sum_at = [&](double elevation) {
        WaveScene moved = moved_out(scene, elevation);
        moved.slices = {slice_at(moved, frequencies, reach, elevation)};
        return beamformed(frequencies, moved, moved.slices, moved.middle_m);
    };
    std::vector<Spectrum> half;
    for (double elevation = 0.0; elevation < reach.elevation_m + 0.5 * step; elevation += step) {
        half.push_back(sum_at(elevation));
    }
    const auto mirrored = [&](double elevation) {
        return half[std::min(static_cast<std::size_t>(std::lround(std::abs(elevation) / step)), half.size() - 1)];
    };
    const EchoPatch patch = make_patch(scene, frequencies, spaced(reach.elevation_m - 0.5 * step, step), mirrored);
    return position_profile(patch, peak_of(patch, scene.axial_theory));
}

LevelWidth elevation_width_m(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m, double level,
                             const PredictionTerms& terms) {
    const Profile profile = elevation_profile(info, recipe, point_m, terms);
    LevelWidth width;
    if (profile.position_m.empty()) {
        width.reason = "no aperture sees this point";
        return width;
    }
    const auto peak = std::ranges::max_element(profile.amplitude) - profile.amplitude.begin();
    return width_at_level(profile, static_cast<double>(peak), level);
}

}  // namespace echoloom
