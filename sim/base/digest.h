#pragma once
/// SHA-256 of a stream of bytes (OpenSSL's libcrypto).

#include <cstddef>
#include <memory>
#include <span>
#include <string>

namespace echoloom {

class Sha256 {
  public:
    Sha256();
    ~Sha256();
    Sha256(Sha256&&) noexcept;
    Sha256& operator=(Sha256&&) noexcept;
    void update(std::span<const std::byte> bytes);
    std::string hex();  ///< finishes; 64 lower-case hex digits

  private:
    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace echoloom
