#include "sim/engine/noise.h"

#include <algorithm>
#include <cmath>

#include "sim/base/random.h"

namespace echoloom {

namespace {
constexpr std::uint64_t noise_stream = 0x6e6f697365ULL;  // apart from every stream of a phantom
}

void add_noise(std::span<float> samples, double rms, std::uint64_t seed, std::size_t event) {
    const CounterRandom random(seed, noise_stream + event);
    for (std::size_t i = 0; i < samples.size(); ++i) {
        samples[i] += static_cast<float>(rms * random.normal(i));
    }
}

void quantize(std::span<float> samples, double full_scale, int bits) {
    if (full_scale <= 0.0) {
        return;
    }
    const double steps = std::ldexp(1.0, bits - 1) - 1.0;
    const double step = full_scale / steps;
    for (float& sample : samples) {
        const double level = std::clamp(std::round(static_cast<double>(sample) / step), -steps, steps);
        sample = static_cast<float>(level * step);
    }
}

}  // namespace echoloom
