#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/expand.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/cache_control.h>
#include <hwy/highway.h>

#include "sim/engine/elements.h"
#include "sim/engine/expand.h"
#include "sim/engine/product.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

template <std::size_t rows, std::size_t vectors, class D>
HWY_INLINE void run_tile(D d, const RealProduct& p, std::size_t row, std::size_t column) {
    using V = hn::Vec<D>;
    const std::size_t lanes = hn::Lanes(d);
    V sum[rows][vectors];
    for (std::size_t r = 0; r < rows; ++r) {
        for (std::size_t v = 0; v < vectors; ++v) {
            sum[r][v] = hn::Zero(d);
        }
    }
    const float* panel[vectors];
    for (std::size_t v = 0; v < vectors; ++v) {
        const std::size_t c = column + v * lanes;
        panel[v] = p.right + c / element_group * p.right_panel + c % element_group;
    }
    // A cell's sums come from a far cache, and one product's time is enough to fetch the next one's.
    const float* ahead = row == 0 && column == 0 && p.next_left != nullptr ? p.next_left : p.left;
    for (std::size_t k = 0; k < p.depth; ++k) {
        hwy::Prefetch(ahead + k * p.left_step);
        V right[vectors];
        for (std::size_t v = 0; v < vectors; ++v) {
            right[v] = hn::LoadU(d, panel[v] + k * element_group);
        }
        for (std::size_t r = 0; r < rows; ++r) {
            const V left = hn::Set(d, p.left[k * p.left_step + (row + r) * p.left_row_step]);
            for (std::size_t v = 0; v < vectors; ++v) {
                sum[r][v] = hn::MulAdd(left, right[v], sum[r][v]);
            }
        }
    }
    for (std::size_t r = 0; r < rows; ++r) {
        for (std::size_t v = 0; v < vectors; ++v) {
            const std::size_t c = column + v * lanes;
            hn::StoreU(sum[r][v], d,
                       p.out + (row + r) * p.out_step + c / element_group * p.out_group_step + c % element_group);
        }
    }
}

void real_product(const RealProduct& p) {
    const hn::CappedTag<float, element_group> d;
    const std::size_t lanes = hn::Lanes(d);
    // Eight rows by two vectors where registers are many (AVX-512), four by one where they are few.
    constexpr std::size_t rows = HWY_MAX_BYTES >= 64 ? 8 : 4;
    constexpr std::size_t vectors = HWY_MAX_BYTES >= 64 ? 2 : 1;
    for (std::size_t row = 0; row < p.rows; row += rows) {
        std::size_t column = 0;
        for (; column + vectors * lanes <= p.columns; column += vectors * lanes) {
            run_tile<rows, vectors>(d, p, row, column);
        }
        for (; column < p.columns; column += lanes) {
            run_tile<rows, 1>(d, p, row, column);
        }
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(real_product);

void multiply(const RealProduct& product) {
    HWY_DYNAMIC_DISPATCH(real_product)(product);
}

}  // namespace echoloom
#endif  // HWY_ONCE
