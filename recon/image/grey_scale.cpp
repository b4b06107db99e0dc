#include "recon/image/grey_scale.h"

#include <algorithm>
#include <cmath>

#include "sim/base/error.h"

namespace echoloom {

std::uint8_t grey_level(const GreyScale& scale, double level_dB) {
    const double fraction = std::clamp((level_dB - scale.black_dB()) / scale.range_dB, 0.0, 1.0);
    return static_cast<std::uint8_t>(std::lround(255.0 * fraction));
}

std::uint8_t grey_of_amplitude(const GreyScale& scale, double amplitude, double reference) {
    if (!(amplitude > 0.0) || !(reference > 0.0)) {
        return 0;
    }
    return grey_level(scale, 20.0 * std::log10(amplitude / reference));
}

double peak_amplitude(std::span<const float> envelope) {
    float peak = 0.0F;
    for (const float value : envelope) {
        if (!std::isfinite(value)) {
            throw InputError("the image's envelope holds a value that is not a finite number; reconstruct it again");
        }
        peak = std::max(peak, value);
    }
    return peak;
}

}  // namespace echoloom
