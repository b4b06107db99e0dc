#include "recon/image/png.h"

#include <gtest/gtest.h>

#include "sim/base/error.h"
#include "tests/image/read_png.h"

namespace echoloom {
namespace {

Canvas pattern(bool coloured) {
    Canvas canvas(37, 21, grey(250));
    for (int y = 0; y < canvas.height(); ++y) {
        for (int x = 0; x < canvas.width(); ++x) {
            canvas.set(x, y, grey(static_cast<std::uint8_t>((x * 31 + y * 17) % 256)));
        }
    }
    if (coloured) {
        canvas.set(5, 7, {200, 100, 50});
    }
    return canvas;
}

void expect_same(const Canvas& canvas, const ReadBack& read) {
    ASSERT_EQ(read.width, canvas.width());
    ASSERT_EQ(read.height, canvas.height());
    EXPECT_TRUE(std::ranges::equal(read.pixels, canvas.pixels()));
}

TEST(Png, IsReadBackByAnotherLibrary) {
    const std::filesystem::path file = temporary("pattern.png");
    for (const bool coloured : {false, true}) {
        write_png(file, pattern(coloured));
        const ReadBack read = read_png(file);
        EXPECT_EQ(read.components, coloured ? 3 : 1);
        expect_same(pattern(coloured), read);
    }
}

TEST(Png, SameCanvasSameBytes) {
    EXPECT_EQ(encode_png(pattern(true)), encode_png(pattern(true)));
}

TEST(Png, RefusedFolderLeavesNothing) {
    EXPECT_THROW(write_png("/proc/nowhere/pattern.png", pattern(false)), MachineError);
    EXPECT_FALSE(std::filesystem::exists("/proc/nowhere"));
}

}  // namespace
}  // namespace echoloom
