#pragma once
/// Batched real inverse transforms of one length.

#include <cstddef>
#include <memory>

namespace echoloom {

/// Plans are made once, on one thread, by FFTW_ESTIMATE, which always chooses the same plan (FFTW_MEASURE was seen to
/// change results from run to run).
class RealTransforms {
  public:
    RealTransforms();
    ~RealTransforms();
    RealTransforms(const RealTransforms&) = delete;
    RealTransforms& operator=(const RealTransforms&) = delete;
    /// Makes the plan for a length; call before any parallel work that uses it.
    void prepare(int length);
    /// `batch` spectra of length / 2 + 1 complex values in `spectra`, into `samples`; spectra are overwritten.
    void inverse(int length, float* spectra, float* samples) const;

    static constexpr std::size_t batch = 16;

  private:
    struct Plans;
    std::unique_ptr<Plans> plans_;
};

}  // namespace echoloom
