#include "recon/image/grey_scale.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

#include "sim/base/error.h"

namespace echoloom {
namespace {

TEST(GreyScale, IsLinearInDecibels) {
    const GreyScale scale{0.0, 60.0};
    EXPECT_EQ(grey_of_amplitude(scale, 1.0, 1.0), 255);
    EXPECT_EQ(grey_of_amplitude(scale, 0.1, 1.0), 170);   // -20 dB: two thirds of the way up
    EXPECT_EQ(grey_of_amplitude(scale, 0.01, 1.0), 85);   // -40 dB
    EXPECT_EQ(grey_of_amplitude(scale, 0.001, 1.0), 0);   // -60 dB
    EXPECT_EQ(grey_of_amplitude(scale, 0.0001, 1.0), 0);  // clipped
    EXPECT_EQ(grey_of_amplitude(scale, 10.0, 1.0), 255);  // clipped
    EXPECT_EQ(grey_of_amplitude(scale, 0.5, 5.0), 170);   // relative
}

TEST(GreyScale, WhiteLevelMovesTheScale) {
    const GreyScale scale{-20.0, 40.0};  // white at -20 dB, black at -60 dB
    EXPECT_EQ(grey_level(scale, -20.0), 255);
    EXPECT_EQ(grey_level(scale, -60.0), 0);
    EXPECT_EQ(grey_level(scale, -30.0), 191);
}

TEST(GreyScale, SilenceIsBlack) {
    const GreyScale scale;
    EXPECT_EQ(grey_of_amplitude(scale, 0.0, 1.0), 0);
    EXPECT_EQ(grey_of_amplitude(scale, 0.0, 0.0), 0);
    EXPECT_EQ(grey_of_amplitude(scale, std::nan(""), 1.0), 0);
}

TEST(GreyTable, GivesTheLevelsOfGreyOfAmplitude) {
    for (const GreyScale scale : {GreyScale{0.0, 60.0}, GreyScale{-20.0, 40.0}, GreyScale{6.0, 3.0}}) {
        for (const double reference : {1.0, 3.7e-9, 2.0e20, 0.0}) {
            const GreyTable table(scale, reference);
            const float unit = reference > 0.0 ? static_cast<float>(reference) : 1.0F;
            for (float share = 1e-5F; share < 10.0F; share *= 1.0003F) {
                const float amplitude = share * unit;
                ASSERT_EQ(table(amplitude), grey_of_amplitude(scale, amplitude, reference)) << amplitude;
            }
            // On both sides of each step, where a table could be off by one value.
            for (int level = 0; level < 255; ++level) {
                const double step_dB = scale.black_dB() + scale.range_dB * (level + 0.5) / 255.0;
                float amplitude = unit * static_cast<float>(std::pow(10.0, step_dB / 20.0)) * (1.0F - 1e-6F);
                for (int i = 0; i < 40; ++i) {
                    ASSERT_EQ(table(amplitude), grey_of_amplitude(scale, amplitude, reference)) << amplitude;
                    amplitude = std::nextafter(amplitude, std::numeric_limits<float>::infinity());
                }
            }
            for (const float odd : {0.0F, -1.0F, std::nanf(""), std::numeric_limits<float>::infinity(),
                                    std::numeric_limits<float>::denorm_min(), std::numeric_limits<float>::max()}) {
                EXPECT_EQ(table(odd), grey_of_amplitude(scale, odd, reference)) << odd;
            }
        }
    }
}

TEST(GreyScale, PeakRefusesWhatIsNotFinite) {
    EXPECT_FLOAT_EQ(static_cast<float>(peak_amplitude(std::vector<float>{0.5F, 2.0F, 1.0F})), 2.0F);
    EXPECT_THROW(peak_amplitude(std::vector<float>{1.0F, std::numeric_limits<float>::infinity()}), InputError);
    EXPECT_THROW(peak_amplitude(std::vector<float>{std::nanf(""), 1.0F}), InputError);
}

}  // namespace
}  // namespace echoloom
