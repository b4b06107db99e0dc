#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/spectrum_sum.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include "sim/engine/spectrum_sum.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

template <class D>
HWY_INLINE void step(D d, const SpectrumView& a, const SpectrumView& b, std::size_t k, float* HWY_RESTRICT real,
                     float* HWY_RESTRICT imaginary) {
    const auto ar = hn::LoadU(d, a.real + k);
    const auto ai = hn::LoadU(d, a.imaginary + k);
    const auto br = hn::LoadU(d, b.real + k);
    const auto bi = hn::LoadU(d, b.imaginary + k);
    const auto re = hn::NegMulAdd(ai, bi, hn::MulAdd(ar, br, hn::LoadU(d, real + k)));
    const auto im = hn::MulAdd(ai, br, hn::MulAdd(ar, bi, hn::LoadU(d, imaginary + k)));
    hn::StoreU(re, d, real + k);
    hn::StoreU(im, d, imaginary + k);
}

void sum(const SpectrumView& a, const SpectrumView& b, std::size_t count, float* real, float* imaginary) {
    const hn::ScalableTag<float> d;
    const std::size_t lanes = hn::Lanes(d);
    std::size_t k = 0;
    for (; k + lanes <= count; k += lanes) {
        step(d, a, b, k, real, imaginary);
    }
    for (; k < count; ++k) {
        step(hn::CappedTag<float, 1>(), a, b, k, real, imaginary);
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(sum);

void add_product(const SpectrumView& a, const SpectrumView& b, std::size_t count, float* real, float* imaginary) {
    HWY_DYNAMIC_DISPATCH(sum)(a, b, count, real, imaginary);
}

}  // namespace echoloom
#endif  // HWY_ONCE
