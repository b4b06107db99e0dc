/// Interpolation between neighbouring samples for a vector of positions that lie close together: the samples are loaded
/// side by side once and looked up in registers. Compiled once for each target, as highway's own -inl.h files are.

#if defined(ECHOLOOM_NEIGHBOURS_INL_H) == defined(HWY_TARGET_TOGGLE)
#ifdef ECHOLOOM_NEIGHBOURS_INL_H
#undef ECHOLOOM_NEIGHBOURS_INL_H
#else
#define ECHOLOOM_NEIGHBOURS_INL_H
#endif

#include <hwy/highway.h>

#include "recon/beamform/tile.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

using D = hn::CappedTag<float, tile_columns>;
using V = hn::Vec<D>;
using I = hn::Vec<hn::RebindToSigned<D>>;

/// True where a look-up in registers beats one in the cache.
inline constexpr bool has_two_tables = HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_AVX2;

/// Lane i: element `index[i]` of `low` and `high` side by side. Of the index only the bits that can count are looked
/// at.
HWY_INLINE V look_up(V low, I index, V high) {
#if HWY_TARGET == HWY_AVX3
    return V{_mm512_permutex2var_ps(low.raw, index.raw, high.raw)};
#elif HWY_TARGET == HWY_AVX2
    const __m256 choose = _mm256_castsi256_ps(_mm256_slli_epi32(index.raw, 28));
    return V{_mm256_blendv_ps(_mm256_permutevar8x32_ps(low.raw, index.raw),
                              _mm256_permutevar8x32_ps(high.raw, index.raw), choose)};
#else
    const D d;
    const hn::RebindToSigned<D> di;
    const auto lanes = static_cast<std::int32_t>(hn::Lanes(d));
    const auto lane = hn::IndicesFromVec(d, hn::And(index, hn::Set(di, lanes - 1)));
    const auto in_low = hn::Eq(hn::And(index, hn::Set(di, lanes)), hn::Zero(di));
    return hn::IfThenElse(hn::RebindMask(d, in_low), hn::TableLookupLanes(low, lane), hn::TableLookupLanes(high, lane));
#endif
}

/// Samples that two registers hold.
struct TwoRegisters {
    V low, high;

    HWY_INLINE explicit TwoRegisters(const float* from)
        : low(hn::LoadU(D(), from)), high(hn::LoadU(D(), from + hn::Lanes(D()))) {}
    HWY_INLINE V at(I index) const { return look_up(low, index, high); }
    static std::size_t samples() { return 2 * hn::Lanes(D()); }
};

/// Samples that four registers hold.
struct FourRegisters {
    TwoRegisters near, far;

    HWY_INLINE explicit FourRegisters(const float* from) : near(from), far(from + TwoRegisters::samples()) {}
    HWY_INLINE V at(I index) const {
        const hn::RebindToSigned<D> di;
        const auto is_far = hn::TestBit(index, hn::Set(di, static_cast<std::int32_t>(TwoRegisters::samples())));
        return hn::IfThenElse(hn::RebindMask(D(), is_far), far.at(index), near.at(index));
    }
    static std::size_t samples() { return 2 * TwoRegisters::samples(); }
};

/// Where a vector of positions reads: whole samples from the first neighbour of its least, in the low bits, and the
/// place between two neighbours, from -1/2 to 1/2.
struct Place {
    I whole;
    V between;
};

/// Adding it leaves no bits below one and so rounds; the low bits are then the whole part.
inline constexpr float rounds = 12582912.0F;  // 1.5 * 2^23

/// `position` is counted from half a sample behind the least.
HWY_INLINE Place split(V position) {
    const V magic = hn::Set(D(), rounds);
    const V rounded = hn::Add(position, magic);
    const auto whole = hn::BitCast(hn::RebindToSigned<D>(), rounded);
#if HWY_TARGET == HWY_AVX3
    return {whole, V{_mm512_reduce_ps(position.raw, _MM_FROUND_TO_NEAREST_INT)}};
#else
    return {whole, hn::Sub(position, hn::Sub(rounded, magic))};
#endif
}

/// The whole part as a number.
HWY_INLINE I whole_samples(const Place& place) {
    return hn::Sub(place.whole, hn::BitCast(hn::RebindToSigned<D>(), hn::Set(D(), rounds)));
}

/// How a trace is read between its samples: two neighbours (linear), four (Lagrange's polynomial), or three
/// coefficients of a quadratic spline.
enum class Reading { linear, cubic, spline };

constexpr std::int32_t neighbours(Reading reading) {
    return reading == Reading::linear ? 2 : (reading == Reading::cubic ? 4 : 3);
}
/// Neighbours before a position's own sample.
constexpr std::int32_t before(Reading reading) {
    return reading == Reading::linear ? 0 : 1;
}
/// What split() is to be given is a position less this: the own sample is the one below it, of a spline the nearest.
constexpr float offset_of(Reading reading) {
    return reading == Reading::spline ? 0.0F : 0.5F;
}

/// Calls add(weight * tap, index) for each neighbour, which `index` counts as Place does.
template <Reading reading, class Add>
HWY_INLINE void for_each_neighbour(const Place& place, V weight, const Add& add) {
    const hn::RebindToSigned<D> di;
    const auto set = [](float value) HWY_ATTR { return hn::Set(D(), value); };
    const auto next = [&](std::int32_t neighbour) HWY_ATTR { return hn::Add(place.whole, hn::Set(di, neighbour)); };
    const V u = place.between;
    if constexpr (reading == Reading::linear) {
        const V second = hn::MulAdd(weight, u, hn::Mul(weight, set(0.5F)));
        add(hn::Sub(weight, second), place.whole);
        add(second, next(1));
    } else {
        const V square = hn::Mul(u, u);
        const V outer = hn::Mul(weight, hn::MulAdd(square, set(1.0F / 6.0F), set(-1.0F / 24.0F)));
        const V inner = hn::Mul(weight, hn::MulAdd(square, set(-0.5F), set(1.125F)));
        add(hn::Mul(outer, hn::Sub(set(1.5F), u)), place.whole);
        add(hn::Mul(inner, hn::Sub(set(0.5F), u)), next(1));
        add(hn::Mul(inner, hn::Add(u, set(0.5F))), next(2));
        add(hn::Mul(outer, hn::Add(u, set(1.5F))), next(3));
    }
}

/// Twice the quadratic B-spline, (1/2 - u)^2, 3/2 - 2 u^2, (1/2 + u)^2: one step less than the spline itself.
template <class Add>
HWY_INLINE void for_each_coefficient_twice(const Place& place, const Add& add) {
    const hn::RebindToSigned<D> di;
    const V u = place.between;
    const V outer = hn::MulAdd(u, u, hn::Set(D(), 0.25F));
    add(hn::Sub(outer, u), place.whole);
    add(hn::NegMulAdd(outer, hn::Set(D(), 2.0F), hn::Set(D(), 2.0F)), hn::Add(place.whole, hn::Set(di, 1)));
    add(hn::Add(outer, u), hn::Add(place.whole, hn::Set(di, 2)));
}

/// True where registers of this kind hold all that positions of such a span and their neighbours read.
template <class Registers>
HWY_INLINE bool fits(float span, Reading reading) {
    const float reach = span + 0.5F - offset_of(reading) + static_cast<float>(neighbours(reading));
    return reach - 0.99F < static_cast<float>(Registers::samples());
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
