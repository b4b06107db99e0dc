#include "recon/measure/prediction.h"

#include <algorithm>
#include <cmath>

#include "recon/measure/echo_patch.h"

namespace echoloom {
namespace {

/// Lateral samples of the predicted patch per theoretical width.
constexpr double lateral_samples = 6.0;
EchoPatch lateral_patch(WaveScene& scene) {
    PatchReach reach{lateral_reach_m(scene), 0.0};
    if (scene.terms.wire_length_m > 0.0) {
        reach.elevation_m = std::min(0.5 * scene.terms.wire_length_m, elevation_reach_m(scene));
    }
    const Frequencies frequencies = frequencies_for(scene, reach);
    prepare_target(scene, frequencies, reach);
    std::vector<double> offsets = spaced(reach.lateral_m, scene.lateral_theory / lateral_samples);
    for (double& offset : offsets) offset += scene.middle_m;
    return make_patch(scene, frequencies, std::move(offsets),
                      [&](double offset) { return beamformed(frequencies, scene, scene.slices, offset); });
}

}  // namespace

PointPrediction predict_point(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m,
                              const PredictionTerms& terms) {
    WaveScene scene = make_scene(info, recipe, point_m, terms);
    PointPrediction prediction;
    if (!std::isfinite(scene.lateral_theory) || !(scene.view.depth_m > 0.0)) {
        prediction.lateral_6dB.reason = prediction.lateral_20dB.reason = "no aperture sees this point";
        return prediction;
    }
    const EchoPatch patch = lateral_patch(scene);
    const FieldPeak peak = peak_of(patch, scene.axial_theory);
    prediction.lateral_reach_m = 0.5 * (patch.position_m.back() - patch.position_m.front());
    prediction.search_offset_m = prediction.lateral_offset_m = scene.middle_m;
    prediction.lateral = position_profile(patch, peak);
    prediction.lateral_6dB = width_at_level(prediction.lateral, peak.column, 0.5);
    prediction.lateral_20dB = width_at_level(prediction.lateral, peak.column, 0.1);
    if (prediction.lateral_6dB.width_m) {
        prediction.lateral_offset_m = 0.5 * (prediction.lateral_6dB.left_m + prediction.lateral_6dB.right_m);
    }
    if (!terms.broadband) return prediction;
    prediction.axial = depth_profile(patch, peak);
    prediction.axial_6dB = width_at_level(prediction.axial, peak.depth, 0.5);
    prediction.axial_20dB = width_at_level(prediction.axial, peak.depth, 0.1);
    return prediction;
}

}  // namespace echoloom
