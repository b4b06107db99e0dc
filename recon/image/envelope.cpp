#include "recon/image/envelope.h"

#include <omp.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "recon/beamform/fft.h"
#include "recon/image/image.h"
#include "sim/base/parallel.h"

namespace echoloom {
namespace {

/// As much silence as signal: a line may be cut in the middle of an echo, at either end.
TraceTransform line_transform(std::size_t depths) {
    return {depths, 1, TraceTransform::Output::analytic, depths};
}

void apply_attenuation_compensation(Image& image) {
    const auto& depth_m =
        std::visit([](const auto& grid) -> const std::vector<double>& { return grid.depth_m; }, image.grid);
    std::vector<float> gain(image.depths);
    for (std::size_t depth = 0; depth < image.depths; ++depth) {
        gain[depth] = static_cast<float>(attenuation_compensation(image.recipe.attenuation_compensation_dB_cm_MHz,
                                                                  image.recording.probe.center_Hz, depth_m[depth]));
    }
    for (std::size_t i = 0; i < image.envelope.size(); ++i) {
        image.envelope[i] *= gain[i % image.depths];
    }
}

}  // namespace

std::size_t envelope_transform_length(std::size_t depths) {
    return line_transform(depths).padded_length();
}

std::vector<float> line_envelope(std::span<const float> rf, std::size_t columns, std::size_t depths) {
    const TraceTransform transform = line_transform(depths);
    std::vector<float> envelope(rf.size());
    FirstFailure failure;
#pragma omp parallel
    failure.run([&] {
        TraceTransform::Workspace workspace(transform);
        std::vector<float> analytic(2 * depths);
        // Whole columns to each thread in turn; which thread takes one changes nothing.
        const auto threads = static_cast<std::size_t>(omp_get_num_threads());
        for (auto column = static_cast<std::size_t>(omp_get_thread_num()); column < columns; column += threads) {
            transform.run(rf.subspan(column * depths, depths), analytic, workspace);
            for (std::size_t depth = 0; depth < depths; ++depth) {
                envelope[column * depths + depth] = std::hypot(analytic[2 * depth], analytic[2 * depth + 1]);
            }
        }
    });
    failure.rethrow();
    return envelope;
}

std::vector<float> modulus(std::span<const float> real, std::span<const float> imaginary) {
    std::vector<float> result(real.size());
    std::ranges::transform(real, imaginary, result.begin(), [](float re, float im) { return std::hypot(re, im); });
    return result;
}

double attenuation_compensation(double gain_dB_cm_MHz, double center_Hz, double depth_m) {
    const double gain_dB = 2.0 * gain_dB_cm_MHz * (center_Hz * 1e-6) * (depth_m * 1e2);
    return std::pow(10.0, gain_dB / 20.0);
}

std::vector<float> to_dB(std::span<const float> envelope, float reference, float min_dB) {
    if (!(reference > 0.0F)) {
        throw std::invalid_argument("a level in dB needs a reference greater than 0");
    }
    std::vector<float> level(envelope.size());
    std::ranges::transform(envelope, level.begin(), [&](float value) {
        return value > 0.0F ? std::max(min_dB, 20.0F * std::log10(value / reference)) : min_dB;
    });
    return level;
}

Image form_image(Beamformed beamformed, const Recipe& recipe, const RecordingInfo& info) {
    Image image;
    image.grid = std::move(beamformed.grid);
    image.columns = beamformed.columns;
    image.depths = beamformed.depths;
    image.envelope = beamformed.imaginary.empty()
                         ? line_envelope(beamformed.real, beamformed.columns, beamformed.depths)
                         : modulus(beamformed.real, beamformed.imaginary);
    image.recipe = recipe;
    image.recording = info;
    image.sound_speed_m_s = assumed_sound_speed(recipe, info);
    if (recipe.attenuation_compensation_dB_cm_MHz > 0.0) {
        apply_attenuation_compensation(image);
    }
    if (recipe.keep_rf) {
        image.real = std::move(beamformed.real);
        image.imaginary = std::move(beamformed.imaginary);
    }
    return image;
}

}  // namespace echoloom
