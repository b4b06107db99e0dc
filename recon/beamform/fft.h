#pragma once
/// The two Fourier transforms the reconstruction needs, in float, by FFTW. Plans are made with FFTW_ESTIMATE, since
/// measured plans differ from run to run and so do the last bits of their results.

#include <complex>
#include <cstddef>
#include <memory>
#include <span>

#include "recon/beamform/high_pass.h"
#include "recon/beamform/trace_padding.h"

namespace echoloom {

/// Raises the sampling rate of one trace by a whole factor, band-limited, and where asked makes it analytic (no
/// negative frequencies, so that the real part is the trace itself) and cuts low frequencies.
/// The trace is padded first (trace_padding.h).
class TraceTransform {
  public:
    /// apart: analytic, all real parts before all imaginary ones.
    enum class Output { real, analytic, apart };

    TraceTransform(std::size_t samples, int factor, Output output, std::size_t padding = TracePadding::usual,
                   const HighPass& high_pass = {});
    ~TraceTransform();
    TraceTransform(TraceTransform&&) noexcept;
    TraceTransform& operator=(TraceTransform&&) noexcept;

    /// Buffers of one thread.
    class Workspace {
      public:
        explicit Workspace(const TraceTransform& transform);
        ~Workspace();
        Workspace(Workspace&&) noexcept;
        Workspace& operator=(Workspace&&) noexcept;

      private:
        friend class TraceTransform;
        struct Buffers;
        std::unique_ptr<Buffers> buffers_;
    };

    std::size_t padded_length() const;   ///< before the rate is raised
    std::size_t output_samples() const;  ///< samples * factor

    /// Real: `output` takes output_samples() floats. Analytic: twice as many, real and imaginary parts side by side.
    /// Apart: the imaginary parts follow `to_imaginary` floats after the real ones.
    /// Thread-safe with one workspace per thread.
    void run(std::span<const float> trace, std::span<float> output, Workspace& workspace,
             std::size_t to_imaginary = 0) const;

  private:
    void run_apart(std::span<float> output, std::size_t to_imaginary, Workspace& workspace) const;

    struct Plans;
    std::unique_ptr<Plans> plans_;
};

}  // namespace echoloom
