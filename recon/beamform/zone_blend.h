#pragma once
/// One line out of events focused at several depths: how much each counts at each depth, from geometry alone.
///
/// Between two foci both beams are compared by the echoes of speckle: with T_k(x, z) the continuous wave that
/// event k transmits to a point at x beside the line and R(x, z) what the receive aperture receives from there, at
/// three frequencies of the pulse's band,
///
///     I_k = <integral |T_k|^2 |R|^2 dx> / <integral |R|^2 dx>        C = <integral T_1 T_2* |R|^2 dx> / <same>
///
/// I_k is in proportion to the mean power of speckle at that depth, C to what the two have in common. From the upper to
/// the lower event the weights w go over as a raised cosine, in the middle of the depth z_s where both are equally far
/// out of focus, 1/z_s = (a_1^2 / F_1 + a_2^2 / F_2) / (a_1^2 + a_2^2) for half apertures a, over half the way from
/// there to the nearer focus, to either side. The sum is scaled so that the power of speckle,
///
///     w_1^2 I_1 + w_2^2 I_2 + 2 w_1 w_2 Re C,
///
/// follows a power law in depth from I_1 at the upper focus to I_2 at the lower one, without a step at the seam, a dip
/// where the beams have little in common, or a band of light around each focus. Above the first and below the last
/// focus events count as they are.

#include <vector>

#include "recon/beamform/line_table.h"

namespace echoloom {

/// What an event is multiplied by in its line.
struct ZoneGains {
    /// [event] gain at each depth; empty for an event whose line has one focus alone: the same at all depths.
    std::vector<std::vector<float>> by_depth;
};

/// Events of one line and focus share its gain equally.
ZoneGains zone_gains(const RecordingInfo& info, const LineSetting& setting);

}  // namespace echoloom
