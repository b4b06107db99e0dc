#pragma once
/// The field of one event as a beam: sent, heard or both, as a continuous wave or as a pulse.

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "sim/engine/field.h"
#include "sim/engine/pulsed_field.h"

namespace echoloom {

/// What a beam is of. By reciprocity (Rayleigh) an element hears a point as loudly as it would sound there, so what is
/// heard is a field like what is sent, of the weights and delays of listening.
enum class BeamPath { transmit, receive, two_way };

/// How the elements listen to what lies `range_m` from the event's origin.
struct Reception {
    std::function<ElementDrive(double range_m)> at;
    bool follows = false;  ///< changes with the range; else the same everywhere
};

class BeamField {
  public:
    struct Setting {
        BeamPath way = BeamPath::transmit;
        bool pulsed = false;         ///< peaks of the probe's pulse in place of a continuous wave
        double frequency_Hz = 0.0;   ///< of the continuous wave
        double focus_range_m = 0.0;  ///< the range at which far_amplitude_m() listens
    };

    /// What is sent as a continuous wave.
    BeamField(TransmittedField sent) : sent_(std::move(sent)) {}
    BeamField(const Probe& probe, const std::optional<HeadMotion>& head, const TransmitEvent& event,
              const Medium& medium, Reception listening, const Setting& setting);

    BeamPath way() const { return setting_.way; }
    bool pulsed() const { return setting_.pulsed; }
    /// In the medium, of the continuous wave or of the pulse's middle.
    double wavelength_m() const { return sent_.wavelength_m(); }

    /// One way: p / (rho c v) of what is sent, or as loud as it would be if what listens sent; both ways the product.
    double amplitude(const Vec3& point_m) const;
    /// The same for many points, on every thread; the bits do not depend on their number.
    std::vector<double> amplitudes(std::span<const Vec3> points_m) const;
    /// Times distance, infinitely far away in a direction (both ways: times its square); a continuous wave in either
    /// case.
    double far_amplitude_m(const Vec3& direction) const;

  private:
    ElementDrive heard_by(const Vec3& point_m) const;

    Setting setting_;
    TransmittedField sent_;
    /// What only beams that listen or are pulsed need; shared by copies.
    struct More;
    std::shared_ptr<const More> more_;
};

/// An event's own weights and delays.
ElementDrive drive_of(const TransmitEvent& event);

}  // namespace echoloom
