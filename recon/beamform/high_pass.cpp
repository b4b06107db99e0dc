#include "recon/beamform/high_pass.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sim/base/text.h"

namespace echoloom {

double HighPass::gain(double frequency) const {
    if (none()) {
        return 1.0;
    }
    const double place = (frequency - nothing_below) / (all_above - nothing_below);
    return 0.5 - 0.5 * std::cos(std::numbers::pi * std::clamp(place, 0.0, 1.0));
}

HighPass high_pass(const Recipe& recipe, const RecordingInfo& info) {
    const double usual_Hz = default_high_pass(info.probe.bandwidth_fraction) * info.probe.center_Hz;
    const double half_Hz = recipe.high_pass_Hz.value_or(usual_Hz);
    const double max_Hz = 0.5 * info.probe.center_Hz;
    if (half_Hz > max_Hz) {
        throw InputError(place_of(recipe, "high_pass_MHz"),
                         plain(half_Hz * 1e-6) + " MHz cuts into the echoes of a probe at " +
                             plain(info.probe.center_Hz * 1e-6) + " MHz; take at most " + plain(max_Hz * 1e-6) +
                             ", 0 for no cut, or leave the key out for " + plain(usual_Hz * 1e-6));
    }
    const double half = half_Hz / info.sampling_rate_Hz;
    return {half / 3.0, half * 5.0 / 3.0};
}

}  // namespace echoloom
