#include "sim/base/text.h"

#include <gtest/gtest.h>

#include <limits>

namespace echoloom {
namespace {

const std::vector<std::string> keys = {"pitch_mm", "width_mm", "height_mm", "center_MHz"};

TEST(Text, FindsTheWordThatWasMeant) {
    EXPECT_EQ(nearest_word("pitch_m", keys), "pitch_mm");
    EXPECT_EQ(nearest_word("ptich_mm", keys), "pitch_mm");
    EXPECT_EQ(nearest_word("pitch", keys), "pitch_mm");
    EXPECT_EQ(nearest_word("CENTER_mhz", keys), "center_MHz");
    EXPECT_EQ(nearest_word("baffle", keys), std::nullopt);
    EXPECT_EQ(nearest_word("", keys), std::nullopt);
    EXPECT_EQ(nearest_word("pitch", {}), std::nullopt);
}

TEST(Text, WritesNumbersAsAPersonWould) {
    EXPECT_EQ(plain(0.3), "0.3");
    EXPECT_EQ(plain(-2.50), "-2.5");
    EXPECT_EQ(plain(1000000.0), "1000000");
    EXPECT_EQ(plain(1234.56789), "1234.57");
    EXPECT_EQ(plain(0.0), "0");
    EXPECT_EQ(plain(std::numeric_limits<double>::infinity()), "inf");
    EXPECT_EQ(plain(std::numeric_limits<double>::quiet_NaN()), "nan");
}

TEST(Text, WritesSizesInBinaryUnits) {
    EXPECT_EQ(human_bytes(512), "512 bytes");
    EXPECT_EQ(human_bytes(1536), "1.5 KiB");
    EXPECT_EQ(human_bytes(1.5e9), "1.4 GiB");
    EXPECT_EQ(human_bytes(200.4 * 1024 * 1024), "200 MiB");
}

}  // namespace
}  // namespace echoloom
