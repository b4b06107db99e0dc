#include "sim/base/side_by_side.h"

#include <gtest/gtest.h>

#include <stdexcept>
#include <string>
#include <thread>

namespace echoloom {
namespace {

TEST(SideBySide, DoesBothAndOneOfThemHere) {
    std::thread::id here;
    int beside = 0;
    side_by_side([&] { here = std::this_thread::get_id(); }, [&] { beside = 2; });
    EXPECT_EQ(here, std::this_thread::get_id());
    EXPECT_EQ(beside, 2);
}

TEST(SideBySide, DoesBothOnOneThread) {
    const int before = omp_get_max_threads();
    omp_set_num_threads(1);
    std::string order;
    side_by_side([&] { order += "first "; }, [&] { order += "then"; });
    omp_set_num_threads(before);
    EXPECT_EQ(order, "first then");
}

TEST(SideBySide, ThrowsWhatEitherThrew) {
    const auto nothing = [] {};
    const auto fail = [] { throw std::runtime_error("no"); };
    EXPECT_THROW(side_by_side(fail, nothing), std::runtime_error);
    EXPECT_THROW(side_by_side(nothing, fail), std::runtime_error);
}

}  // namespace
}  // namespace echoloom
