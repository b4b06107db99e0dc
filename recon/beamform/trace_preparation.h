#pragma once
/// How traces are made ready for the sum: cut below, resampled or demodulated, and laid in a bank, a row each, with
/// silence at both ends so that the neighbours of any position can be read.

#include <cstdint>
#include <span>
#include <variant>
#include <vector>

#include "recon/beamform/demodulation.h"
#include "recon/beamform/fft.h"
#include "recon/beamform/recipe.h"
#include "recon/beamform/taps.h"

namespace echoloom {

class TracePreparation {
  public:
    /// For lines: real; upsampled where the recipe says so. For pixels: analytic, real and imaginary parts apart, as
    /// they are or, where the recipe says upsampled, demodulated.
    enum class Form { lines, pixels };
    using Workspace = std::variant<TraceTransform::Workspace, Demodulation::Workspace>;  ///< of one thread

    /// Throws InputError for an event of more samples than 32 bits can count.
    TracePreparation(const RecordingInfo& info, const Recipe& recipe, Form form);

    /// Floats of one trace in the bank, silence included; with imaginary parts, half of them are these.
    std::size_t row_floats() const { return row_samples_ * (apart_ ? 2 : 1); }
    std::size_t to_imaginary() const { return row_samples_; }
    std::size_t trace_samples() const { return samples_; }  ///< without the silence
    double samples_per_recorded() const { return factor_; }
    /// Cycles per sample that were taken out; 0 for none.
    double carrier() const;
    /// True where traces are taken as they are.
    bool copies() const { return copy_only_; }

    Workspace workspace() const;

    /// Takes one trace into a row of the bank; sample 0 comes to stand at `silence`. A trace that is not merely
    /// copied may lie in the row itself.
    void prepare(std::span<const float> trace, std::span<float> row, Workspace& workspace) const;

    static constexpr std::size_t silence = trace_silence;

  private:
    bool apart_;
    int factor_;
    std::size_t samples_;
    std::size_t row_samples_;
    bool copy_only_;
    std::variant<TraceTransform, Demodulation> transform_;
};

}  // namespace echoloom
