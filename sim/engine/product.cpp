#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/engine/product.cpp"
#include <hwy/foreach_target.h>  // compiles this file once for each target
// foreach_target.h must stand before highway.h
#include <hwy/highway.h>

#include "sim/engine/product.h"
#include "sim/engine/product_target.h"

HWY_BEFORE_NAMESPACE();
namespace echoloom::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

constexpr std::size_t tile_rows = 4;

/// Pointers of one bin of one strip.
struct BinView {
    const float* real;  ///< G of this bin, first column of the strip: [scatterer * stride + column]
    const float* imaginary;
    const float* left;  ///< [scatterer * 2 * strip_rows + row], real parts then imaginary parts
    std::size_t scatterers;
    std::size_t stride;
};

/// A tile of four rows by `vectors` vectors of columns, its sums in registers.
template <std::size_t vectors, class D>
HWY_INLINE void run_tile(D d, const BinView& bin, std::size_t row, std::size_t column, bool fresh, std::size_t width,
                         float* HWY_RESTRICT out_real, float* HWY_RESTRICT out_imaginary) {
    using V = hn::Vec<D>;
    const std::size_t lanes = hn::Lanes(d);
    V re[tile_rows][vectors];
    V im[tile_rows][vectors];
    for (std::size_t r = 0; r < tile_rows; ++r) {
        for (std::size_t v = 0; v < vectors; ++v) {
            const std::size_t at = (row + r) * width + column + v * lanes;
            re[r][v] = fresh ? hn::Zero(d) : hn::LoadU(d, out_real + at);
            im[r][v] = fresh ? hn::Zero(d) : hn::LoadU(d, out_imaginary + at);
        }
    }
    for (std::size_t s = 0; s < bin.scatterers; ++s) {
        V gr[vectors];
        V gi[vectors];
        for (std::size_t v = 0; v < vectors; ++v) {
            gr[v] = hn::LoadU(d, bin.real + s * bin.stride + column + v * lanes);
            gi[v] = hn::LoadU(d, bin.imaginary + s * bin.stride + column + v * lanes);
        }
        const float* left = bin.left + s * 2 * strip_rows + row;
        for (std::size_t r = 0; r < tile_rows; ++r) {
            const V lr = hn::Set(d, left[r]);
            const V li = hn::Set(d, left[strip_rows + r]);
            for (std::size_t v = 0; v < vectors; ++v) {
                re[r][v] = hn::MulAdd(lr, gr[v], re[r][v]);
                im[r][v] = hn::MulAdd(lr, gi[v], im[r][v]);
                re[r][v] = hn::NegMulAdd(li, gi[v], re[r][v]);
                im[r][v] = hn::MulAdd(li, gr[v], im[r][v]);
            }
        }
    }
    for (std::size_t r = 0; r < tile_rows; ++r) {
        for (std::size_t v = 0; v < vectors; ++v) {
            const std::size_t at = (row + r) * width + column + v * lanes;
            hn::StoreU(re[r][v], d, out_real + at);
            hn::StoreU(im[r][v], d, out_imaginary + at);
        }
    }
}

/// One strip of rows of one bin.
void strip_of_bin(const ProductTarget& to, const ResponseGrid& responses, bool fresh, std::size_t k) {
    const hn::CappedTag<float, element_group> d;
    const std::size_t lanes = hn::Lanes(d);
    // Two vectors a tile where registers are many (AVX-512), one where they are few.
    constexpr std::size_t vectors = HWY_MAX_BYTES >= 64 ? 2 : 1;
    const float* real = responses.real.data() + responses.at(k, 0) + to.first_row;
    const float* imaginary = responses.imaginary.data() + responses.at(k, 0) + to.first_row;
    for (std::size_t s = 0; s < responses.scatterers; ++s) {
        const auto strength = hn::Set(d, responses.strength[s]);
        for (std::size_t r = 0; r < strip_rows; r += lanes) {
            float* left = to.left + s * 2 * strip_rows + r;
            hn::StoreU(hn::Mul(strength, hn::LoadU(d, real + s * responses.padded + r)), d, left);
            hn::StoreU(hn::Mul(strength, hn::LoadU(d, imaginary + s * responses.padded + r)), d, left + strip_rows);
        }
    }
    const BinView bin{real, imaginary, to.left, responses.scatterers, responses.padded};
    float* out_real = to.real + k * to.bin_step;
    float* out_imaginary = to.imaginary + k * to.bin_step;
    for (std::size_t row = 0; row < strip_rows; row += tile_rows) {
        std::size_t column = row / lanes * lanes;  // pairs left of the diagonal are not needed
        for (; column + vectors * lanes <= to.width; column += vectors * lanes) {
            run_tile<vectors>(d, bin, row, column, fresh, to.row_step, out_real, out_imaginary);
        }
        for (; column < to.width; column += lanes) {
            run_tile<1>(d, bin, row, column, fresh, to.row_step, out_real, out_imaginary);
        }
    }
}

void products(const ResponseGrid& responses, bool fresh, const ProductTarget* strips, std::size_t count) {
    for (std::size_t k = 0; k < responses.bins; ++k) {
        for (std::size_t i = 0; i < count; ++i) {
            strip_of_bin(strips[i], responses, fresh, k);
        }
    }
}

}  // namespace echoloom::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace echoloom {

HWY_EXPORT(products);

namespace {

void make_left(const ResponseGrid& responses, AlignedVector<float>& left) {
    if (left.size() < responses.scatterers * 2 * strip_rows) {
        left.resize(responses.scatterers * 2 * strip_rows);
    }
}

void make_room(const ResponseGrid& responses, StripSums& strip) {
    strip.make_room(responses.bins);
    make_left(responses, strip.left);
}

}  // namespace

void StripSums::make_room(std::size_t bins) {
    const std::size_t size = at(bins, 0);
    if (real.size() < size) {
        real.resize(size);
        imaginary.resize(size);
    }
}

void accumulate_products(const ResponseGrid& responses, bool fresh, StripSums& strip) {
    make_room(responses, strip);
    const ProductTarget target{.first_row = strip.first_row,
                               .width = strip.width,
                               .row_step = strip.width,
                               .bin_step = strip_rows * strip.width,
                               .left = strip.left.data(),
                               .real = strip.real.data(),
                               .imaginary = strip.imaginary.data()};
    HWY_DYNAMIC_DISPATCH(products)(responses, fresh, &target, 1);
}

void accumulate_square(const ResponseGrid& responses, bool fresh, SquareSums& sums) {
    const std::size_t rows = responses.padded;
    const std::size_t size = responses.bins * rows * rows;
    if (sums.real.size() < size) {
        sums.real.resize(size);
        sums.imaginary.resize(size);
    }
    make_left(responses, sums.left);
    std::vector<ProductTarget> strips;
    for (std::size_t row = 0; row < rows; row += strip_rows) {
        strips.push_back({.first_row = row,
                          .width = rows - row,
                          .row_step = rows,
                          .bin_step = rows * rows,
                          .left = sums.left.data(),
                          .real = sums.real.data() + row * rows + row,
                          .imaginary = sums.imaginary.data() + row * rows + row});
    }
    HWY_DYNAMIC_DISPATCH(products)(responses, fresh, strips.data(), strips.size());
}

void fill_lower_half(float* matrix, std::size_t rows) {
    for (std::size_t i = 0; i < rows; ++i) {
        for (std::size_t j = i + 1; j < rows; ++j) {
            matrix[j * rows + i] = matrix[i * rows + j];
        }
    }
}

void accumulate_products_plain(const ResponseGrid& responses, bool fresh, StripSums& strip) {
    make_room(responses, strip);
    for (std::size_t k = 0; k < responses.bins; ++k) {
        for (std::size_t r = 0; r < strip_rows; ++r) {
            for (std::size_t c = 0; c < strip.width; ++c) {
                const std::size_t out = strip.at(k, r) + c;
                double re = fresh ? 0.0 : static_cast<double>(strip.real[out]);
                double im = fresh ? 0.0 : static_cast<double>(strip.imaginary[out]);
                for (std::size_t s = 0; s < responses.scatterers; ++s) {
                    const std::size_t i = responses.at(k, s) + strip.first_row + r;
                    const std::size_t j = responses.at(k, s) + strip.first_row + c;
                    const double strength = static_cast<double>(responses.strength[s]);
                    const double ar = strength * static_cast<double>(responses.real[i]);
                    const double ai = strength * static_cast<double>(responses.imaginary[i]);
                    re +=
                        ar * static_cast<double>(responses.real[j]) - ai * static_cast<double>(responses.imaginary[j]);
                    im +=
                        ar * static_cast<double>(responses.imaginary[j]) + ai * static_cast<double>(responses.real[j]);
                }
                strip.real[out] = static_cast<float>(re);
                strip.imaginary[out] = static_cast<float>(im);
            }
        }
    }
}

}  // namespace echoloom
#endif  // HWY_ONCE
