#include "sim/base/large_buffer.h"

#include <sys/mman.h>

#include <cstdlib>
#include <new>

namespace echoloom {

void LargeBuffer::Free::operator()(float* memory) const {
    std::free(memory);
}

LargeBuffer::LargeBuffer(std::size_t floats) : size_(floats) {
    constexpr std::size_t page = std::size_t{2} << 20;
    const std::size_t bytes = (floats * sizeof(float) + page - 1) / page * page;
    memory_.reset(static_cast<float*>(std::aligned_alloc(page, bytes)));
    if (!memory_) {
        throw std::bad_alloc();
    }
#ifdef MADV_HUGEPAGE
    madvise(memory_.get(), bytes, MADV_HUGEPAGE);  // a wish: refused, small pages serve
#endif
}

}  // namespace echoloom
