#include "recon/image/png.h"

#include <gtest/gtest.h>

#include <array>
#include <random>
#include <thread>

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

/// Nothing that a filter or a compressor could make use of, and larger than what zlib looks back at.
Canvas noise(int width, int height) {
    Canvas canvas(width, height, grey(0));
    std::mt19937 random(1);
    const auto level = [&random] { return static_cast<std::uint8_t>(random() % 256); };
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x) {
            canvas.set(x, y, {level(), level(), level()});
        }
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

TEST(Png, NoiseAndNarrowCanvasesAreReadBack) {
    const std::filesystem::path file = temporary("noise.png");
    for (const auto& [width, height] : {std::pair{301, 257}, {1, 1}, {1, 300}, {300, 1}}) {
        const Canvas canvas = noise(width, height);
        write_png(file, canvas);
        expect_same(canvas, read_png(file));
    }
}

TEST(Png, SameCanvasSameBytes) {
    EXPECT_EQ(encode_png(pattern(true)), encode_png(pattern(true)));
}

TEST(Png, ThreadsAtOnceGiveTheSameBytes) {
    const Canvas canvas = noise(301, 257);
    std::array<std::vector<char>, 4> found;
    {
        std::vector<std::jthread> threads;
        threads.reserve(found.size());
        for (std::vector<char>& bytes : found) {
            threads.emplace_back([&canvas, &bytes] { bytes = encode_png(canvas); });
        }
    }
    for (const std::vector<char>& bytes : found) {
        EXPECT_EQ(bytes, encode_png(canvas));
    }
}

TEST(Png, CanvasWithoutPixelsIsRefused) {
    EXPECT_THROW(encode_png(Canvas(0, 5, grey(0))), MachineError);
}

TEST(Png, RefusedFolderLeavesNothing) {
    EXPECT_THROW(write_png("/proc/nowhere/pattern.png", pattern(false)), MachineError);
    EXPECT_FALSE(std::filesystem::exists("/proc/nowhere"));
}

}  // namespace
}  // namespace echoloom
