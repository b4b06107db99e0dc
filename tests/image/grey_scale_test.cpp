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

TEST(GreyScale, PeakRefusesWhatIsNotFinite) {
    EXPECT_FLOAT_EQ(static_cast<float>(peak_amplitude(std::vector<float>{0.5F, 2.0F, 1.0F})), 2.0F);
    EXPECT_THROW(peak_amplitude(std::vector<float>{1.0F, std::numeric_limits<float>::infinity()}), InputError);
    EXPECT_THROW(peak_amplitude(std::vector<float>{std::nanf(""), 1.0F}), InputError);
}

}  // namespace
}  // namespace echoloom
