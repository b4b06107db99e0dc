#pragma once
/// The channels of one event, made ready for the sum: resampled, and with silence at both ends of each trace so that
/// the four neighbours of any position can be read.

#include <cstdint>
#include <span>
#include <vector>

#include "recon/beamform/fft.h"
#include "recon/beamform/recipe.h"

namespace echoloom {

class TraceBank {
  public:
    using Form = TraceTransform::Output;

    TraceBank(std::size_t channels, std::size_t samples, Interpolation interpolation, Form form);

    /// Takes the samples [channel, sample] of an event. Parallel over channels; the same bits on any number of threads.
    void load(std::span<const float> samples);

    /// All traces; analytic samples count as two floats.
    std::span<const float> data() const { return data_; }
    std::size_t row_samples() const { return row_samples_; }  ///< with the silence
    std::size_t bytes() const { return data_.size() * sizeof(float); }

    /// Samples of silence in front of each trace.
    static constexpr std::size_t silence = 16;

  private:
    std::size_t channels_;
    std::size_t samples_;
    std::size_t floats_per_sample_;
    std::size_t row_samples_;
    bool copy_only_;
    TraceTransform transform_;
    std::vector<TraceTransform::Workspace> workspaces_;  ///< [thread]
    std::vector<float> data_;                            ///< [channel, row sample]
};

}  // namespace echoloom
