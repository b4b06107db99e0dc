#include "sim/base/digest.h"

#include <gtest/gtest.h>

#include <string_view>

namespace echoloom {
namespace {

void feed(Sha256& digest, std::string_view text) {
    digest.update(std::as_bytes(std::span(text)));
}

std::string sha256(std::string_view text) {
    Sha256 digest;
    feed(digest, text);
    return digest.hex();
}

// NIST, "Descriptions of SHA-256, SHA-384 and SHA-512" / FIPS 180 example messages (from memory; recomputed by Python's
// hashlib in tests/published/recompute_random.py).
TEST(Digest, GivesTheKnownAnswersOfTheStandard) {
    EXPECT_EQ(sha256("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    EXPECT_EQ(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
              "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    EXPECT_EQ(sha256(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST(Digest, OfAStreamDoesNotDependOnItsPieces) {
    Sha256 digest;
    for (int i = 0; i < 1000; ++i) {
        feed(digest, std::string(1000, 'a'));
    }
    Sha256 moved = std::move(digest);
    EXPECT_EQ(moved.hex(), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");  // a million "a"
}

}  // namespace
}  // namespace echoloom
