#include "recon/image/envelope.h"

#include <gtest/gtest.h>

#include <cmath>

#include "recon/image/image.h"
#include "tests/beamform/synthetic.h"

namespace echoloom {
namespace {

using namespace echoloom::testing;

TEST(Envelope, DepthGainMakesUpForThereAndBack) {
    // 0.5 dB/cm/MHz at 5 MHz over 4 cm, twice: 20 dB.
    EXPECT_NEAR(attenuation_compensation(0.5, 5e6, 4e-2), 10.0, 1e-12);
    EXPECT_EQ(attenuation_compensation(0.0, 5e6, 4e-2), 1.0);
}

// 20 log10(1/2) = -6.0206.
TEST(Envelope, LevelsInDecibels) {
    const std::vector<float> envelope{1.0F, 0.5F, 0.0F, 1e-20F, 2.0F};
    const auto level = to_dB(envelope, 1.0F, -120.0F);
    EXPECT_FLOAT_EQ(level[0], 0.0F);
    EXPECT_NEAR(level[1], -6.0206F, 1e-4F);
    EXPECT_EQ(level[2], -120.0F);
    EXPECT_EQ(level[3], -120.0F);
    EXPECT_NEAR(level[4], 6.0206F, 1e-4F);
    EXPECT_THROW(to_dB(envelope, 0.0F), std::invalid_argument);
    EXPECT_THROW(to_dB(envelope, std::nanf("")), std::invalid_argument);
}

TEST(Envelope, ImagesCarryWhatTheRecipeAsks) {
    Synthetic recording = line_recording(flat_probe(16, 0.3e-3, 5e6, 0.6), {Vec3::Zero()}, Vec3::UnitZ(), 16, 1500);
    add_echo(recording, Vec3(0, 0, 20e-3), 1.0, [](const TransmitEvent&) { return 20e-3; });
    const auto form = [&](const Recipe& recipe) {
        return form_image(beamform(recording.info, recording.reader(), recipe), recipe, recording.info);
    };
    Recipe recipe;
    const Image plain = form(recipe);
    EXPECT_TRUE(plain.real.empty());
    EXPECT_EQ(plain.envelope.size(), plain.depths);
    EXPECT_EQ(plain.sound_speed_m_s, 1540.0);
    recipe.keep_rf = true;
    recipe.attenuation_compensation_dB_cm_MHz = 0.5;
    const Image raised = form(recipe);
    EXPECT_EQ(raised.real.size(), raised.depths);
    EXPECT_TRUE(raised.imaginary.empty());
    const auto& depth = std::get<LineGrid>(plain.grid).depth_m;
    for (std::size_t d = 0; d < plain.depths; ++d) {
        const double gain = std::pow(10.0, 0.5 * 5.0 * depth[d] * 100.0 * 2.0 / 20.0);
        EXPECT_NEAR(raised.envelope[d], plain.envelope[d] * gain, 1e-5 * gain);
    }
}

}  // namespace
}  // namespace echoloom
