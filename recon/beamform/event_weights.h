#pragma once
/// How much each event of a Cartesian image counts at a pixel.

#include <vector>

#include "recon/beamform/aperture.h"
#include "recon/beamform/scan_kind.h"

namespace echoloom {

class EventWeights {
  public:
    EventWeights(const RecordingInfo& info, const Recipe& recipe, ScanKind kind);

    /// Fills [event] for a column at x where the aperture is `width_m` wide. Full matrix "as_receive": the receive rule
    /// applied to the elements that fire. Plane waves: the window across the set of angles, the same everywhere.
    void at(double x_m, double width_m, const Aperture& aperture, std::vector<double>& offsets,
            std::vector<float>& weights) const;

  private:
    std::vector<double> firing_x_m_;  ///< [event]; empty where weights do not follow the aperture
    std::vector<float> fixed_;        ///< [event]
    bool normalize_;
};

}  // namespace echoloom
