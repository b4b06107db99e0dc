#pragma once
/// Loops that do nothing but what bounds the machine, for the vector instructions chosen at run time.

#include <hwy/aligned_allocator.h>

#include <cstddef>
#include <string>

namespace echoloom::benchmark {

/// Fused (or, on the baseline, separate) multiplications and additions on registers; returns operations done.
double spin_multiply_add(std::size_t repetitions);

/// A product of complex float matrices of this many rows and columns, from panels packed beforehand, so that nothing
/// but arithmetic and caches is measured.
inline constexpr std::size_t matrix_size = 1024;
struct MatrixPanels {
    MatrixPanels();
    hwy::AlignedFreeUniquePtr<float[]> left;
    hwy::AlignedFreeUniquePtr<float[]> right;
    hwy::AlignedFreeUniquePtr<float[]> out;
};
void multiply_panels(MatrixPanels& panels);

/// Sum of floats, so that every byte is read; a multiple of 128.
float read_all(const float* values, std::size_t count);
/// out = a + 3 b past the caches; aligned, a multiple of 128.
void triad(const float* a, const float* b, float* out, std::size_t count);

/// Linear interpolation at neighbouring places of short stretches of float samples, all in the innermost cache; returns
/// interpolations done.
double spin_interpolation(std::size_t repetitions);

/// "AVX3" and the like, of the kernels here and everywhere.
std::string vector_target();

}  // namespace echoloom::benchmark
