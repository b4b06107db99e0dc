#pragma once
/// How the channels of one event are made ready for the sum: cut below, resampled, and laid in a bank, a row each, with
/// silence at both ends so that the four neighbours of any position can be read.

#include <cstdint>
#include <span>
#include <vector>

#include "recon/beamform/fft.h"
#include "recon/beamform/recipe.h"

namespace echoloom {

class TracePreparation {
  public:
    using Form = TraceTransform::Output;
    using Workspace = TraceTransform::Workspace;  ///< of one thread

    /// Throws InputError for an event of more samples than 32 bits can count.
    TracePreparation(const RecordingInfo& info, const Recipe& recipe, Form form);

    /// Silence for the rows of one event; analytic samples count as two floats.
    std::vector<float> empty_bank() const { return std::vector<float>(bank_floats(), 0.0F); }
    std::size_t bank_floats() const { return channels_ * row_samples_ * floats_per_sample_; }
    std::size_t row_samples() const { return row_samples_; }  ///< with the silence

    Workspace workspace() const { return Workspace(transform_); }

    /// Takes one channel's trace from the samples [channel, sample] of an event into its row of the bank.
    void prepare(std::size_t channel, std::span<const float> samples, std::span<float> bank,
                 Workspace& workspace) const;

    /// Samples of silence in front of each trace.
    static constexpr std::size_t silence = 16;

  private:
    std::size_t channels_;
    std::size_t samples_;
    std::size_t floats_per_sample_;
    std::size_t row_samples_;
    bool copy_only_;
    TraceTransform transform_;
};

}  // namespace echoloom
