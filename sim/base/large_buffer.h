#pragma once
/// A large piece of memory that is not touched before it is used, so that each thread brings in its own part.

#include <cstddef>
#include <memory>
#include <span>

namespace echoloom {

/// Floats without a value. Where the system offers pages of 2 MiB they are asked for: a hundred traces read side by
/// side would else miss the table of pages at every step.
class LargeBuffer {
  public:
    LargeBuffer() = default;
    /// Throws std::bad_alloc.
    explicit LargeBuffer(std::size_t floats);

    float* data() { return memory_.get(); }
    const float* data() const { return memory_.get(); }
    std::size_t size() const { return size_; }
    std::span<float> part(std::size_t first, std::size_t count) { return {memory_.get() + first, count}; }

  private:
    struct Free {
        void operator()(float* memory) const;
    };
    std::unique_ptr<float, Free> memory_;
    std::size_t size_ = 0;
};

}  // namespace echoloom
