#pragma once
/// The field of a short pulse at any point: transmitted, received, or both.
///
/// As the echoes of DEVELOPERS.md "The physics" count it: the two-way pulse E(f) holds all time derivatives, and each
/// way takes one square root of its magnitude, which for a Gaussian is a Gaussian sqrt(2) times as wide. With k0 the
/// wavenumber at the probe's centre frequency,
///
///   one way   p(f) = sqrt|E(f)| k0 sum over elements of w_e exp(-j 2 pi f tau_e) G_e(f)
///   two-way   p(f) = E(f) k0 [the sum on transmit] k0 [the sum on receive]
///
/// scaled so that the pulse itself has a peak of 1: for a long pulse |p| is the p / (rho c v) of field.h, and both ways
/// the product of two such. The two-way field is the echo of a point, summed by the receive drive, before anything
/// else.

#include <complex>
#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/base/medium.h"
#include "sim/engine/face_rules.h"

namespace echoloom {

/// How elements take part, on transmit and on receive alike: the echo of an element that is delayed by tau counts as if
/// it came so much later.
struct ElementDrive {
    std::vector<double> weight, delay_s;  ///< [element]
};

class PulsedField {
  public:
    /// A moving head counts as standing at an angle. `tolerance` is of an element's own response.
    PulsedField(const Probe& probe, const std::optional<HeadMotion>& head, double head_angle_rad, const Medium& medium,
                double tolerance = 1e-4);

    /// Greatest value over all time of the envelope at a point, of the transmit field of a drive (which is also
    /// its receive field).
    double peak(const Vec3& point_m, const ElementDrive& drive) const;
    /// The same of the echo of the point.
    double peak(const Vec3& point_m, const ElementDrive& transmitted, const ElementDrive& received) const;

    /// Pressure at instants, into `pressure` [instant]; zero before the first and after the last arrival.
    void pressures(const Vec3& point_m, const ElementDrive& drive, std::span<const double> instants_s,
                   std::span<float> pressure) const;

    /// The instant at which the envelope is greatest.
    double arrival_s(const Vec3& point_m, const ElementDrive& drive) const;

    /// Time from the middle of the pulse after which it is gone.
    double tail_s() const { return tail_s_; }

  private:
    struct Source {
        Element element;
        Vec3 lateral, elevation;
    };
    /// Times between which anything arrives.
    struct Span {
        double first_s = 0.0, last_s = 0.0;
    };
    /// The wave at one point: the analytic signal from `start_s` on for one period of the bins.
    struct Wave;
    /// E(f) or the square root of its magnitude, tabulated.
    struct PulseTable {
        double step_Hz = 0.0;
        std::vector<std::complex<double>> value;
        std::complex<double> at(double frequency_Hz) const;
    };

    PulseTable table_of(const std::function<std::complex<double>(double)>& spectrum) const;
    Wave wave_at(const Vec3& point_m, std::span<const ElementDrive* const> drives) const;
    Span arrivals(const Vec3& point, const ElementDrive& drive) const;
    void add_rectangle(const Source& source, const Vec3& from_center, double reference_s, Wave& wave) const;
    void add_ring(const Source& source, const Vec3& from_center, double reference_s, Wave& wave) const;

    Probe probe_;
    Medium medium_;
    std::optional<HeadPose> pose_;
    std::vector<Source> sources_;  ///< [element]
    std::shared_ptr<const FaceRules> rules_;
    double low_Hz_ = 0.0, high_Hz_ = 0.0, tail_s_ = 0.0;
    PulseTable one_way_, two_way_;
};

}  // namespace echoloom
