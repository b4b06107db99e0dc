#pragma once
/// A vector for hundreds of megabytes that are touched all over: on large pages where the system has them, for else
/// looking up pages takes a good part of every access.

#if defined(__linux__)
#include <sys/mman.h>
#endif

#include <cstddef>
#include <new>
#include <vector>

namespace echoloom {

template <class T>
struct LargePageAllocator {
    using value_type = T;
    static constexpr std::size_t page = std::size_t{2} << 20;
    LargePageAllocator() = default;
    template <class U>
    explicit LargePageAllocator(const LargePageAllocator<U>&) {}
    T* allocate(std::size_t count) {
        const std::size_t bytes = count * sizeof(T);
        if (bytes < page) {
            return static_cast<T*>(::operator new (bytes, std::align_val_t{64}));
        }
        void* memory = ::operator new (bytes, std::align_val_t{page});
#if defined(__linux__) && defined(MADV_HUGEPAGE)
        madvise(memory, bytes / page * page, MADV_HUGEPAGE);  // advice: nothing is wrong if it is not taken
#endif
        return static_cast<T*>(memory);
    }
    void deallocate(T* pointer, std::size_t count) {
        ::operator delete (pointer, std::align_val_t{count * sizeof(T) < page ? 64 : page});
    }
    bool operator==(const LargePageAllocator&) const = default;
};

template <class T>
using LargeVector = std::vector<T, LargePageAllocator<T>>;

}  // namespace echoloom
