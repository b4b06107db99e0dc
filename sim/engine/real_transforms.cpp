#include "sim/engine/real_transforms.h"

#include <map>

#include "sim/base/fftw_memory.h"

namespace echoloom {

struct RealTransforms::Plans {
    std::map<int, Plan> by_length;
};

RealTransforms::RealTransforms() : plans_(std::make_unique<Plans>()) {}
RealTransforms::~RealTransforms() = default;

void RealTransforms::prepare(int length) {
    if (plans_->by_length.contains(length)) {
        return;
    }
    const int bins = length / 2 + 1;
    const auto count = static_cast<int>(batch);
    // FFTW_ESTIMATE reads no values; FFTW_UNALIGNED lets any work space be used.
    const FloatBuffer in(fftwf_alloc_real(static_cast<std::size_t>(2 * bins) * batch));
    const FloatBuffer out(fftwf_alloc_real(static_cast<std::size_t>(length) * batch));
    plans_->by_length[length] =
        Plan(fftwf_plan_many_dft_c2r(1, &length, count, reinterpret_cast<fftwf_complex*>(in.get()), nullptr, 1, bins,
                                     out.get(), nullptr, 1, length, FFTW_ESTIMATE | FFTW_UNALIGNED));
}

void RealTransforms::inverse(int length, float* spectra, float* samples) const {
    fftwf_execute_dft_c2r(plans_->by_length.at(length).get(), reinterpret_cast<fftwf_complex*>(spectra), samples);
}

}  // namespace echoloom
