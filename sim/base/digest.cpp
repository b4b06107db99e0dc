#include "sim/base/digest.h"

#include <openssl/evp.h>

#include <array>

#include "sim/base/error.h"

namespace echoloom {

struct Sha256::State {
    struct Free {
        void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
    };
    std::unique_ptr<EVP_MD_CTX, Free> context{EVP_MD_CTX_new()};
};

namespace {

void require(bool done) {
    if (!done) {
        throw MachineError("the cryptographic library refused to compute a SHA-256 digest");
    }
}

}  // namespace

Sha256::Sha256() : state_(std::make_unique<State>()) {
    require(state_->context != nullptr && EVP_DigestInit_ex(state_->context.get(), EVP_sha256(), nullptr) == 1);
}
Sha256::~Sha256() = default;
Sha256::Sha256(Sha256&&) noexcept = default;
Sha256& Sha256::operator=(Sha256&&) noexcept = default;

void Sha256::update(std::span<const std::byte> bytes) {
    require(EVP_DigestUpdate(state_->context.get(), bytes.data(), bytes.size()) == 1);
}

std::string Sha256::hex() {
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned int length = 0;
    require(EVP_DigestFinal_ex(state_->context.get(), digest.data(), &length) == 1);
    constexpr const char* digits = "0123456789abcdef";
    std::string text;
    for (unsigned int i = 0; i < length; ++i) {
        text += digits[digest[i] >> 4U];
        text += digits[digest[i] & 15U];
    }
    return text;
}

}  // namespace echoloom
