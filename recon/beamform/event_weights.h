#pragma once
/// How much each event of an image of pixels counts at a pixel.

#include <cmath>
#include <optional>
#include <vector>

#include "recon/beamform/aperture.h"
#include "recon/beamform/scan_kind.h"

namespace echoloom {

class EventWeights {
  public:
    EventWeights(const RecordingInfo& info, const Recipe& recipe, ScanKind kind);

    /// Full matrix "as_receive": an event counts by the receive rule applied to the element that fires, at
    /// `firing_lateral_m` of the face.
    bool by_aperture() const { return !firing_lateral_m_.empty(); }
    double firing_lateral_m(std::size_t event) const { return firing_lateral_m_[event]; }

    /// Plane and diverging waves: the window across the set of angles or sources, the same everywhere; they sum to one
    /// where the recipe normalizes.
    float fixed(std::size_t event) const { return fixed_[event]; }

    /// Retrospective: weights go by the pixel's place in the event's cone.
    bool by_cone() const { return cone_window_.has_value(); }
    float in_cone(const FocusCone& cone, const Vec3& point_m) const {
        const double lateral = cone.lateral_share(point_m);
        return std::abs(lateral) < 0.5 ? static_cast<float>((*cone_window_)(lateral, 2.0)) : 0.0F;
    }

  private:
    std::vector<double> firing_lateral_m_;      ///< [event]; empty where weights do not follow the aperture
    std::vector<float> fixed_;                  ///< [event]
    std::optional<SampledWindow> cone_window_;  ///< retrospective
};

}  // namespace echoloom
