#pragma once
/// A trace as a slowly varying complex amplitude about a carrier, in the form that a quadratic spline interpolates.
///
/// An echo turns several times over its length, its amplitude hardly at all: once the carrier is taken out, three
/// neighbours at the recorded rate say more than four at twice the rate. The analytic trace a(n) is shifted down by the
/// carrier, and divided by the spectrum of a quadratic B-spline at the samples, 3/4 + 1/4 cos w, so that
///
///     a(t) = exp(j w_c t) sum_n c(n) beta(t - n)
///
/// passes through every sample (M. Unser, A. Aldroubi & M. Eden, IEEE Trans. Signal Processing 41, 821-833, 1993, from
/// memory).

#include <memory>
#include <span>
#include <vector>

#include "recon/beamform/high_pass.h"

namespace echoloom {

class Demodulation {
  public:
    /// `carrier` in cycles per sample; the nearest that fits the padded trace is taken. Padding as TraceTransform's.
    Demodulation(std::size_t samples, double carrier, std::size_t padding, const HighPass& high_pass);
    ~Demodulation();
    Demodulation(Demodulation&&) noexcept;
    Demodulation& operator=(Demodulation&&) noexcept;

    double carrier() const;  ///< in cycles per sample

    /// Buffers of one thread.
    class Workspace {
      public:
        explicit Workspace(const Demodulation& demodulation);
        ~Workspace();
        Workspace(Workspace&&) noexcept;
        Workspace& operator=(Workspace&&) noexcept;

      private:
        friend class Demodulation;
        struct Buffers;
        std::unique_ptr<Buffers> buffers_;
    };

    /// Fills as many real and imaginary parts of c as the trace has samples. Thread-safe with one workspace per thread.
    void run(std::span<const float> trace, std::span<float> real, std::span<float> imaginary,
             Workspace& workspace) const;

  private:
    struct Plans;
    std::unique_ptr<Plans> plans_;
};

}  // namespace echoloom
