#pragma once
/// What single-precision FFTW gives, given back by itself.

#include <fftw3.h>

#include <complex>
#include <cstddef>
#include <memory>
#include <new>
#include <type_traits>

namespace echoloom {

struct FreeFftw {
    void operator()(void* memory) const { fftwf_free(memory); }
};
using FloatBuffer = std::unique_ptr<float[], FreeFftw>;
using ComplexBuffer = std::unique_ptr<fftwf_complex[], FreeFftw>;

struct DestroyPlan {
    void operator()(fftwf_plan plan) const { fftwf_destroy_plan(plan); }
};
using Plan = std::unique_ptr<std::remove_pointer_t<fftwf_plan>, DestroyPlan>;

inline FloatBuffer floats(std::size_t count) {
    FloatBuffer buffer(fftwf_alloc_real(count));
    if (!buffer) {
        throw std::bad_alloc();
    }
    return buffer;
}

inline ComplexBuffer complexes(std::size_t count) {
    ComplexBuffer buffer(fftwf_alloc_complex(count));
    if (!buffer) {
        throw std::bad_alloc();
    }
    return buffer;
}

inline fftwf_complex* as_fftw(std::complex<float>* pointer) {
    return reinterpret_cast<fftwf_complex*>(pointer);
}

}  // namespace echoloom
