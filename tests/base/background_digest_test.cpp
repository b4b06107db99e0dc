#include "sim/base/background_digest.h"

#include <gtest/gtest.h>
#include <omp.h>

namespace echoloom {
namespace {

/// More than the queue holds, in pieces of uneven size.
std::string of_pieces() {
    BackgroundDigest digest;
    std::vector<std::byte> piece;
    for (std::size_t i = 0; i < 40; ++i) {
        piece.assign(100'000 * (i % 13), static_cast<std::byte>(i));
        digest.update(piece);
    }
    return digest.finish().hex();
}

std::string of_the_same_at_once() {
    Sha256 digest;
    for (std::size_t i = 0; i < 40; ++i) {
        digest.update(std::vector<std::byte>(100'000 * (i % 13), static_cast<std::byte>(i)));
    }
    return digest.hex();
}

TEST(BackgroundDigest, IsTheSameAsAtOnceOnAnyNumberOfThreads) {
    const int before = omp_get_max_threads();
    for (const int threads : {1, 2, 3}) {
        omp_set_num_threads(threads);
        EXPECT_EQ(of_pieces(), of_the_same_at_once()) << threads;
    }
    omp_set_num_threads(before);
}

/// FIPS 180-4's empty message: e3b0c442... (from memory).
TEST(BackgroundDigest, OfNothingIsThatOfNothing) {
    EXPECT_EQ(BackgroundDigest().finish().hex().substr(0, 8), "e3b0c442");
}

TEST(BackgroundDigest, CanBeLeftUnfinished) {
    omp_set_num_threads(2);
    for (int i = 0; i < 20; ++i) {
        BackgroundDigest digest;
        digest.update(std::vector<std::byte>(1'000'000));
        digest.update(std::vector<std::byte>(1'000'000));
    }
}

}  // namespace
}  // namespace echoloom
