#pragma once
/// The field of one event as a beam: transmitted, received or both, as a continuous wave or as a pulse.

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "sim/engine/field.h"
#include "sim/engine/pulsed_field.h"

namespace echoloom {

/// What a beam is of. By reciprocity (Rayleigh) an element receives from a point with the amplitude it would produce
/// there, so a receive beam is a field like a transmit beam, with the weights and delays of reception.
enum class BeamPath { transmit, receive, two_way };

/// How the elements receive echoes from `range_m` away from the event's origin.
struct Reception {
    std::function<ElementDrive(double range_m)> at;
    bool follows = false;  ///< changes with the range; else the same everywhere
};

class BeamField {
  public:
    struct Setting {
        BeamPath path = BeamPath::transmit;
        bool pulsed = false;         ///< peaks of the probe's pulse in place of a continuous wave
        double frequency_Hz = 0.0;   ///< of the continuous wave
        double focus_range_m = 0.0;  ///< the receive focus of far_amplitude_m()
    };

    /// What is transmitted as a continuous wave.
    BeamField(TransmittedField transmitted) : transmitted_(std::move(transmitted)) {}
    BeamField(const Probe& probe, const std::optional<HeadMotion>& head, const TransmitEvent& event,
              const Medium& medium, Reception reception, const Setting& setting);

    BeamPath path() const { return setting_.path; }
    bool pulsed() const { return setting_.pulsed; }
    /// In the medium, of the continuous wave or of the pulse's middle.
    double wavelength_m() const { return transmitted_.wavelength_m(); }

    /// One way: p / (rho c v) of the transmit beam, or of the receive beam as if it were transmitted; two-way the
    /// product.
    double amplitude(const Vec3& point_m) const;
    /// The same for many points, on every thread; the bits do not depend on their number.
    std::vector<double> amplitudes(std::span<const Vec3> points_m) const;
    /// Times distance, in the far field in a direction (two-way: times its square); a continuous wave in either
    /// case.
    double far_amplitude_m(const Vec3& direction) const;

  private:
    ElementDrive receive_drive_at(const Vec3& point_m) const;

    Setting setting_;
    TransmittedField transmitted_;
    /// What only receive beams and pulsed beams need; shared by copies.
    struct More;
    std::shared_ptr<const More> more_;
};

/// An event's own weights and delays.
ElementDrive drive_of(const TransmitEvent& event);

}  // namespace echoloom
