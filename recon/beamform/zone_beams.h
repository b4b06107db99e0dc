#pragma once
/// The beams of two events of one line, compared by the echoes of speckle (see zone_blend.h for the formulas).

#include <vector>

#include "recon/beamform/line_table.h"

namespace echoloom {

/// A transmitting or receiving element in the line's own frame.
struct BeamElement {
    Vec3 place_m;
    Vec3 lateral;
    double width_m = 0.0;
    double ring_m = 0.0;  ///< radius of a ring, whose place is its centre; 0 for any other element
    double weight = 0.0;  ///< when it transmits; a ring's times its area
    double path_m = 0.0;  ///< its delay times the sound speed
};

/// Everything the comparison depends on.
struct BeamPair {
    LineGeometry receive;                   ///< for the receive weights and delays
    std::vector<BeamElement> upper, lower;  ///< those that transmit
    std::vector<BeamElement> receivers;     ///< [channel]
    double upper_focus_m = 0.0, lower_focus_m = 0.0;
    bool rows = false;  ///< elements are told apart along elevation too

    bool same_as(const BeamPair& other) const;
};

BeamPair beams_between(const RecordingInfo& info, const ElementPlaces& places, std::size_t upper_event,
                       std::size_t lower_event, double sound_speed_m_s);

/// Logarithms of the intensities I_1 and I_2, and Re C / sqrt(I_1 I_2).
struct BeamPower {
    double log_upper = 0.0, log_lower = 0.0, coherence = 0.0;
};

struct ZoneGap {
    double upper_focus_m = 0.0, lower_focus_m = 0.0;
    double upper_half_m = 0.0, lower_half_m = 0.0;  ///< half apertures
    std::vector<double> depth_m;                    ///< from one focus to the other, fine enough to interpolate
    std::vector<BeamPower> power;                   ///< [depth]
};

/// Pairs of beams, each different one computed once.
class GapsOfLines {
  public:
    void add(BeamPair pair);
    /// The same bits on any number of threads.
    void compute(const RecordingInfo& info, const LineSetting& setting);
    const ZoneGap& of(std::size_t added) const { return gaps_[of_added_[added]]; }

  private:
    std::vector<BeamPair> pairs_;
    std::vector<std::size_t> of_added_;
    std::vector<ZoneGap> gaps_;
};

}  // namespace echoloom
