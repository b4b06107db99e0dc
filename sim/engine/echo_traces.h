#pragma once
/// From the sums of a strip at the bins of a cell's window to samples in the pair record.

#include <memory>
#include <vector>

#include "sim/engine/pair_record.h"
#include "sim/engine/product.h"
#include "sim/engine/response.h"

namespace echoloom {

/// Batched inverse transforms of one window length; plans are made once, on one thread, by FFTW_ESTIMATE, which always
/// chooses the same plan (FFTW_MEASURE was seen to change results from run to run).
class WindowTransforms {
  public:
    WindowTransforms();
    ~WindowTransforms();
    WindowTransforms(const WindowTransforms&) = delete;
    WindowTransforms& operator=(const WindowTransforms&) = delete;
    /// Makes the plan for a length; call before any parallel work that uses it.
    void prepare(int length);
    /// `batch` spectra of `length` complex values, distance(length) apart, into as many complex traces; both start on a
    /// cache line. Spectra are kept.
    void inverse(int length, float* spectra, float* traces) const;

    static constexpr std::size_t batch = element_group;
    static std::size_t distance(int length);

  private:
    struct Plans;
    std::unique_ptr<Plans> plans_;
};

/// Work space of one thread.
struct TraceScratch {
    AlignedVector<float> spectra;
    AlignedVector<float> traces;
    int length = 0;  ///< of the window whose bins outside the band are zero in `spectra`
    int first_bin = 0;
    int bins = 0;
};

/// Multiplies each pair's sums by the pulse's spectrum and both elements' factors, transforms them, and adds the traces
/// at their integer place. Only rows of this strip are touched, so strips can run side by side.
void add_traces(const EngineContext& context, const WindowPlan& plan, const ElementFactors& factors,
                const StripSums& strip, const WindowTransforms& transforms, TraceScratch& scratch, PairRecord& record);

}  // namespace echoloom
