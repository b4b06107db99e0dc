#include "recon/image/canvas.h"

#include <gtest/gtest.h>

namespace echoloom {
namespace {

TEST(Canvas, FillIsCutAtTheEdges) {
    Canvas canvas(4, 3, grey(10));
    canvas.fill({2, 1, 50, 50}, grey(200));
    canvas.fill({-5, -5, 6, 6}, grey(90));
    EXPECT_EQ(canvas.at(0, 0), grey(90));
    EXPECT_EQ(canvas.at(1, 0), grey(10));
    EXPECT_EQ(canvas.at(3, 2), grey(200));
    EXPECT_EQ(canvas.at(1, 2), grey(10));
}

TEST(Canvas, BlendMixesByCoverage) {
    Canvas canvas(3, 1, grey(100));
    canvas.blend({4, 1, {255, 0, 51, 255}}, 0, 0, grey(0));
    EXPECT_EQ(canvas.at(0, 0), grey(0));
    EXPECT_EQ(canvas.at(1, 0), grey(100));
    EXPECT_EQ(canvas.at(2, 0), grey(80));  // one fifth covered
}

TEST(Canvas, TurnedLeftReadsUpwards) {
    // a b c        c f
    // d e f   ->   b e
    //              a d
    const Mask turned = turned_left({3, 2, {'a', 'b', 'c', 'd', 'e', 'f'}});
    EXPECT_EQ(turned.width, 2);
    EXPECT_EQ(turned.height, 3);
    EXPECT_EQ(turned.coverage, (std::vector<std::uint8_t>{'c', 'f', 'b', 'e', 'a', 'd'}));
}

TEST(Canvas, StrokeCoversItsWidthAndStaysInTheClip) {
    Canvas canvas(20, 9, grey(255));
    const std::vector<Position> points{{2.0, 4.5}, {18.0, 4.5}};
    canvas.stroke(points, 3.0, grey(0), {0, 0, 10, 9});
    EXPECT_EQ(canvas.at(5, 2), grey(255));
    EXPECT_EQ(canvas.at(5, 3), grey(0));
    EXPECT_EQ(canvas.at(5, 4), grey(0));
    EXPECT_EQ(canvas.at(5, 5), grey(0));
    EXPECT_EQ(canvas.at(5, 6), grey(255));
    EXPECT_EQ(canvas.at(10, 4), grey(255));
}

TEST(Rect, OverlapAndContainment) {
    const Rect a{0, 0, 10, 10};
    EXPECT_FALSE(a.overlaps({10, 0, 5, 5}));
    EXPECT_TRUE(a.overlaps({9, 9, 5, 5}));
    EXPECT_TRUE(a.contains({0, 0, 10, 10}));
    EXPECT_FALSE(a.contains({1, 1, 10, 2}));
    EXPECT_EQ(intersection(a, {20, 20, 5, 5}).width, 0);
}

}  // namespace
}  // namespace echoloom
