/// Looks up floats among two vectors side by side; included once for each target, within highway's namespaces.

#if defined(ECHOLOOM_TWO_TABLES_H) == defined(HWY_TARGET_TOGGLE)
#ifdef ECHOLOOM_TWO_TABLES_H
#undef ECHOLOOM_TWO_TABLES_H
#else
#define ECHOLOOM_TWO_TABLES_H
#endif

#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

/// True where a look-up in registers beats one in the cache.
inline constexpr bool has_two_tables = HWY_TARGET == HWY_AVX3 || HWY_TARGET == HWY_AVX2;

/// Lane i: element `index[i]` of `low` and `high` side by side. Of the index, which may carry more above, only the bits
/// that can count are looked at.
using TableFloats = hn::CappedTag<float, 32>;
using TableIndex = hn::Vec<hn::RebindToSigned<TableFloats>>;

HWY_INLINE hn::Vec<TableFloats> look_up(hn::Vec<TableFloats> low, TableIndex index, hn::Vec<TableFloats> high) {
#if HWY_TARGET == HWY_AVX3
    return hn::Vec<TableFloats>{_mm512_permutex2var_ps(low.raw, index.raw, high.raw)};
#elif HWY_TARGET == HWY_AVX2
    const __m256 choose = _mm256_castsi256_ps(_mm256_slli_epi32(index.raw, 28));
    return hn::Vec<TableFloats>{_mm256_blendv_ps(_mm256_permutevar8x32_ps(low.raw, index.raw),
                                                 _mm256_permutevar8x32_ps(high.raw, index.raw), choose)};
#else
    const TableFloats d;
    const hn::RebindToSigned<TableFloats> di;
    const auto lanes = static_cast<std::int32_t>(hn::Lanes(d));
    const auto lane = hn::IndicesFromVec(d, hn::And(index, hn::Set(di, lanes - 1)));
    const auto in_low = hn::Eq(hn::And(index, hn::Set(di, lanes)), hn::Zero(di));
    return hn::IfThenElse(hn::RebindMask(d, in_low), hn::TableLookupLanes(low, lane),
                          hn::TableLookupLanes(high, lane));
#endif
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
