#pragma once
/// A vector whose storage starts on a cache line, as aligned vector loads ask.

#include <cstddef>
#include <new>
#include <vector>

namespace echoloom {

template <class T>
struct CacheLineAllocator {
    using value_type = T;
    static constexpr std::align_val_t alignment{64};
    CacheLineAllocator() = default;
    template <class U>
    explicit CacheLineAllocator(const CacheLineAllocator<U>&) {}
    T* allocate(std::size_t count) { return static_cast<T*>(::operator new(count * sizeof(T), alignment)); }
    void deallocate(T* pointer, std::size_t) { ::operator delete(pointer, alignment); }
    bool operator==(const CacheLineAllocator&) const = default;
};

template <class T>
using AlignedVector = std::vector<T, CacheLineAllocator<T>>;

}  // namespace echoloom
