#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "tests/benchmark/roof_kernels.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/cache_control.h>
#include <hwy/highway.h>

#include "tests/benchmark/roof_kernels.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::benchmark::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using Tag = hn::ScalableTag<float>;
using Vector = hn::Vec<Tag>;

/// Where results go that nobody needs, so that the work is done all the same.
inline void keep(float value) {
    volatile float kept = value;
    static_cast<void>(kept);
}

constexpr bool many_registers = HWY_MAX_BYTES >= 64;

double multiply_adds(std::size_t repetitions) {
    const Tag d;
    constexpr std::size_t chains = many_registers ? 20 : 12;
    Vector sum[chains];
    for (std::size_t i = 0; i < chains; ++i) {
        sum[i] = hn::Set(d, static_cast<float>(i));
    }
    const Vector factor = hn::Set(d, 0.999F);
    const Vector addend = hn::Set(d, 0.001F);
    for (std::size_t repetition = 0; repetition < repetitions; ++repetition) {
#pragma GCC unroll 32  // else the sums are kept in memory
        for (std::size_t i = 0; i < chains; ++i) {
            sum[i] = hn::MulAdd(sum[i], factor, addend);
        }
    }
    for (std::size_t i = 1; i < chains; ++i) {
        sum[0] = hn::Add(sum[0], sum[i]);
    }
    keep(hn::GetLane(sum[0]));
    return 2.0 * static_cast<double>(repetitions * chains * hn::Lanes(d));
}

// Matrix product: panels of `rows` by `depth` on the left and `depth` by `vectors` vectors on the right, real and
// imaginary parts side by side; a tile's sums stay in registers.
constexpr std::size_t rows = many_registers ? 6 : 4;
constexpr std::size_t vectors = many_registers ? 2 : 1;
constexpr std::size_t depth = 128;

/// One tile over one block of depth.
HWY_INLINE void add_tile(const float* HWY_RESTRICT left, const float* HWY_RESTRICT right, float* HWY_RESTRICT out,
                         bool fresh) {
    const Tag d;
    const std::size_t lanes = hn::Lanes(d);
    Vector re[rows][vectors];
    Vector im[rows][vectors];
    for (std::size_t r = 0; r < rows; ++r) {
        for (std::size_t v = 0; v < vectors; ++v) {
            float* const at = out + 2 * (r * vectors + v) * lanes;
            re[r][v] = fresh ? hn::Zero(d) : hn::Load(d, at);
            im[r][v] = fresh ? hn::Zero(d) : hn::Load(d, at + lanes);
        }
    }
    for (std::size_t k = 0; k < depth; ++k) {
        Vector br[vectors];
        Vector bi[vectors];
        for (std::size_t v = 0; v < vectors; ++v) {
            br[v] = hn::Load(d, right + 2 * v * lanes);
            bi[v] = hn::Load(d, right + (2 * v + 1) * lanes);
        }
        for (std::size_t r = 0; r < rows; ++r) {
            const Vector ar = hn::Set(d, left[2 * r]);
            const Vector ai = hn::Set(d, left[2 * r + 1]);
            for (std::size_t v = 0; v < vectors; ++v) {
                re[r][v] = hn::MulAdd(ar, br[v], re[r][v]);
                im[r][v] = hn::MulAdd(ar, bi[v], im[r][v]);
                re[r][v] = hn::NegMulAdd(ai, bi[v], re[r][v]);
                im[r][v] = hn::MulAdd(ai, br[v], im[r][v]);
            }
        }
        left += 2 * rows;
        right += 2 * vectors * lanes;
    }
    for (std::size_t r = 0; r < rows; ++r) {
        for (std::size_t v = 0; v < vectors; ++v) {
            float* const at = out + 2 * (r * vectors + v) * lanes;
            hn::Store(re[r][v], d, at);
            hn::Store(im[r][v], d, at + lanes);
        }
    }
}

/// Whole tiles are taken, so a few more rows than asked for.
void multiply(const float* left, const float* right, float* out) {
    const std::size_t columns = vectors * hn::Lanes(Tag());
    const std::size_t row_tiles = (matrix_size + rows - 1) / rows;
    const std::size_t column_tiles = matrix_size / columns;
    for (std::size_t k = 0; k < matrix_size / depth; ++k) {
        for (std::size_t c = 0; c < column_tiles; ++c) {
            for (std::size_t r = 0; r < row_tiles; ++r) {
                add_tile(left + (k * row_tiles + r) * depth * 2 * rows,
                         right + (k * column_tiles + c) * depth * 2 * columns,
                         out + (c * row_tiles + r) * 2 * rows * columns, k == 0);
            }
        }
    }
}

float sum(const float* values, std::size_t count) {
    const Tag d;
    const std::size_t lanes = hn::Lanes(d);
    Vector part[8];
    for (Vector& it : part) {
        it = hn::Zero(d);
    }
    for (std::size_t i = 0; i < count; i += 8 * lanes) {
        for (std::size_t j = 0; j < 8; ++j) {
            part[j] = hn::Add(part[j], hn::LoadU(d, values + i + j * lanes));
        }
    }
    for (std::size_t j = 1; j < 8; ++j) {
        part[0] = hn::Add(part[0], part[j]);
    }
    return hn::GetLane(hn::SumOfLanes(d, part[0]));
}

void add_streams(const float* a, const float* b, float* out, std::size_t count) {
    const Tag d;
    const Vector three = hn::Set(d, 3.0F);
    for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
        hn::Stream(hn::MulAdd(three, hn::Load(d, b + i), hn::Load(d, a + i)), d, out + i);
    }
    hwy::FlushStream();
}

// Interpolation: all lanes find their two neighbours in one stretch of twice as many samples as lanes, by permuting
// two registers where the instruction set can.
using IndexTag = hn::RebindToSigned<Tag>;
using Index = hn::Vec<IndexTag>;

#if HWY_TARGET == HWY_AVX3
HWY_INLINE Vector pick(const float* stretch, Index at) {
    const Tag d;
    return Vector{_mm512_permutex2var_ps(hn::LoadU(d, stretch).raw, at.raw, hn::LoadU(d, stretch + hn::Lanes(d)).raw)};
}
#elif HWY_TARGET == HWY_AVX2
HWY_INLINE Vector pick(const float* stretch, Index at) {
    const Tag d;
    const __m256 low = _mm256_permutevar8x32_ps(hn::LoadU(d, stretch).raw, at.raw);
    const __m256 high = _mm256_permutevar8x32_ps(hn::LoadU(d, stretch + hn::Lanes(d)).raw, at.raw);
    return Vector{_mm256_blendv_ps(low, high, _mm256_castsi256_ps(_mm256_slli_epi32(at.raw, 28)))};
}
#else
HWY_INLINE Vector pick(const float* stretch, Index at) {
    return hn::GatherIndex(Tag(), stretch, at);
}
#endif

double interpolations(std::size_t repetitions) {
    const Tag d;
    const IndexTag di;
    const std::size_t lanes = hn::Lanes(d);
    constexpr std::size_t groups = 4;     // vectors of places whose sums stay in registers
    constexpr std::size_t elements = 32;  // traces added up
    constexpr std::size_t max_lanes = HWY_MAX_BYTES / sizeof(float);
    HWY_ALIGN float places[elements * groups * max_lanes];  // samples from the stretch's start
    HWY_ALIGN float traces[elements * 4 * max_lanes];
    for (std::size_t e = 0; e < elements; ++e) {
        for (std::size_t i = 0; i < groups * lanes; ++i) {
            places[e * groups * lanes + i] =
                static_cast<float>(i % lanes) * 1.7F + 0.01F * static_cast<float>(e) + 0.2F;
        }
        for (std::size_t i = 0; i < 4 * lanes; ++i) {
            traces[e * 4 * lanes + i] = static_cast<float>((i * 37 + e * 11) % 64) - 31.0F;
        }
    }
    Vector total = hn::Zero(d);
    for (std::size_t repetition = 0; repetition < repetitions; ++repetition) {
        const Vector shift = hn::Set(d, 0.001F * static_cast<float>(repetition % 128));
        Vector sums[groups];
        for (Vector& it : sums) {
            it = hn::Zero(d);
        }
        for (std::size_t e = 0; e < elements; ++e) {
            for (std::size_t g = 0; g < groups; ++g) {
                const Vector place = hn::Add(hn::Load(d, places + (e * groups + g) * lanes), shift);
                const Index whole = hn::ConvertTo(di, place);
                const Vector fraction = hn::Sub(place, hn::ConvertTo(d, whole));
                const float* const stretch = traces + e * 4 * lanes + g;
                const Vector before = pick(stretch, whole);
                const Vector after = pick(stretch + 1, whole);
                sums[g] = hn::Add(sums[g], hn::MulAdd(fraction, hn::Sub(after, before), before));
            }
        }
        for (const Vector& it : sums) {
            total = hn::Add(total, it);
        }
    }
    keep(hn::GetLane(hn::SumOfLanes(d, total)));
    return static_cast<double>(repetitions * elements * groups * lanes);
}

const char* target() {
    return hwy::TargetName(HWY_TARGET);
}

}  // namespace echoloom::benchmark::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom::benchmark {

HWY_EXPORT(multiply_adds);
HWY_EXPORT(multiply);
HWY_EXPORT(sum);
HWY_EXPORT(add_streams);
HWY_EXPORT(interpolations);
HWY_EXPORT(target);

namespace {

/// Room for the panels of any target.
constexpr std::size_t panel_floats = 2 * (matrix_size + 8) * matrix_size;

hwy::AlignedFreeUniquePtr<float[]> panel() {
    auto floats = hwy::AllocateAligned<float>(panel_floats);
    for (std::size_t i = 0; i < panel_floats; ++i) {
        floats[i] = static_cast<float>(i % 13) * 0.1F - 0.6F;
    }
    return floats;
}

}  // namespace

MatrixPanels::MatrixPanels() : left(panel()), right(panel()), out(panel()) {}

double spin_multiply_add(std::size_t repetitions) {
    return HWY_DYNAMIC_DISPATCH(multiply_adds)(repetitions);
}
void multiply_panels(MatrixPanels& panels) {
    HWY_DYNAMIC_DISPATCH(multiply)(panels.left.get(), panels.right.get(), panels.out.get());
}
float read_all(const float* values, std::size_t count) {
    return HWY_DYNAMIC_DISPATCH(sum)(values, count);
}
void triad(const float* a, const float* b, float* out, std::size_t count) {
    HWY_DYNAMIC_DISPATCH(add_streams)(a, b, out, count);
}
double spin_interpolation(std::size_t repetitions) {
    return HWY_DYNAMIC_DISPATCH(interpolations)(repetitions);
}
std::string vector_target() {
    return HWY_DYNAMIC_DISPATCH(target)();
}

}  // namespace echoloom::benchmark
#endif  // HWY_ONCE
