/// Whole images on every instruction set that this machine has: those with fused multiply-add give the same bits, the
/// baseline the same picture to rounding.

#include <gtest/gtest.h>
#include <hwy/targets.h>

#include <algorithm>
#include <cmath>

#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

/// Forms the image on one instruction set; the highest that are allowed is taken.
Beamformed image_on(std::int64_t target, const Synthetic& recording, const Recipe& recipe) {
    hwy::SetSupportedTargetsForTest(target);
    Beamformed image = beamform(recording.info, recording.reader(), recipe);
    hwy::SetSupportedTargetsForTest(0);
    return image;
}

/// Largest difference over the largest value.
double difference(const std::vector<float>& a, const std::vector<float>& b) {
    double largest = 0.0;
    double most = 1e-30;
    for (std::size_t i = 0; i < a.size(); ++i) {
        largest = std::max(largest, std::abs(static_cast<double>(a[i]) - static_cast<double>(b[i])));
        most = std::max(most, std::abs(static_cast<double>(a[i])));
    }
    return largest / most;
}

void expect_alike(const Synthetic& recording, const Recipe& recipe) {
    const auto targets = hwy::SupportedAndGeneratedTargets();
    const Beamformed best = image_on(targets.front(), recording, recipe);
    for (const std::int64_t target : targets) {
        const Beamformed other = image_on(target, recording, recipe);
        const bool fused = target == HWY_AVX2 || target == HWY_AVX3;
        EXPECT_LE(difference(best.real, other.real), fused ? 0.0 : 2e-6) << hwy::TargetName(target);
        if (!best.imaginary.empty()) {
            EXPECT_LE(difference(best.imaginary, other.imaginary), fused ? 0.0 : 2e-6) << hwy::TargetName(target);
        }
    }
}

Synthetic with_noise(Synthetic recording) {
    for (std::size_t event = 0; event < recording.samples.size(); ++event) {
        for (std::size_t i = 0; i < recording.samples[event].size(); ++i) {
            recording.samples[event][i] = static_cast<float>(noise(700000 * event + i));
        }
    }
    return recording;
}

TEST(Targets, GiveTheSameImagesForEveryChoiceOfInterpolation) {
    // A carrier that is no binary fraction of the sampling rate, so that turning it rounds.
    const Probe probe = flat_probe(24, 0.3e-3, 5.3e6, 0.6);
    const Synthetic matrix = with_noise(full_matrix_recording(probe, 700));
    const Synthetic planes = with_noise(plane_wave_recording(probe, {-0.2, 0.0, 0.3}, 700));
    const Synthetic lines =
        with_noise(line_recording(probe, {Vec3(-1e-3, 0, 0), Vec3(1.1e-3, 0, 0)}, Vec3::UnitZ(), 16, 700));
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 1.5;
    recipe.window = {WindowKind::hann, 0.0};
    for (const auto interpolation : {Interpolation::linear, Interpolation::cubic, Interpolation::upsampled}) {
        recipe.interpolation = interpolation;
        expect_alike(matrix, recipe);
        expect_alike(planes, recipe);
        expect_alike(lines, recipe);
    }
}

}  // namespace
}  // namespace echoloom
