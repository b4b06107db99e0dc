#pragma once
/// Whether the echo of a target at a known place arrives when the geometry says, and whether it would arrive better
/// were the delays' sign or the order of channels the other way round.

#include <optional>
#include <vector>

#include "sim/import/acquired_recording.h"

namespace echoloom {

/// One way of reading the same samples.
struct Reading {
    bool delays_negated = false;
    bool channels_reversed = false;
    double late_s = 0.0;     ///< of all echoes alike, against what geometry says
    double coherence = 0.0;  ///< how far traces agree at that time: 1 for all, 1 / (their number) for chance
    double sum = 0.0;        ///< magnitude of the aligned sum, relative
};

struct Arrival {
    Vec3 point_m = Vec3::Zero();
    std::size_t traces = 0;  ///< that took part
    Reading as_stated;
    std::vector<Reading> others;  ///< that differ from it: none where neither delays nor channels can be turned
    bool found() const;           ///< the traces agree better than chance and neighbours would have it
};

/// How far to either side of its predicted time an echo is looked for.
inline constexpr double arrival_reach_s = 5e-6;

/// Correlates each trace with the probe's pulse, turned by what the transmit field at the point and the way back ask
/// for, and adds them all at one lateness after another.
Arrival check_arrival(const AcquisitionPlan& plan, const Acquisition& acquisition, const AcquiredSamples& samples,
                      const Vec3& point_m);

}  // namespace echoloom
