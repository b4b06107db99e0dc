#pragma once
/// The field of one transmit event at one frequency: the array's continuous wave at any point.

#include <cmath>
#include <complex>
#include <optional>
#include <span>
#include <vector>

#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/base/medium.h"

namespace echoloom {

/// p / (rho c v), v being the velocity of an element of weight 1, time going as exp(+j omega t):
///
///   p / (rho c v) = j k sum over elements of w_e exp(-j omega tau_e) integral of B exp(-gamma R) / (2 pi R) dS
///
/// with gamma = attenuation + j wavenumber. Rectangles are integrated over their face by Gauss-Legendre points chosen
/// from the phase across it (to about 1e-7 of the element's own response, less nearer to a face than a hundredth of
/// its half length), rings along their edges (ring_response). Everything is in double precision. A moving head counts
/// as standing at the angle of the event.
class TransmittedField {
  public:
    TransmittedField(const Probe& probe, const std::optional<HeadMotion>& head, const TransmitEvent& event,
                     const Medium& medium, double frequency_Hz);

    double wavenumber() const { return wavenumber_; }
    double wavelength_m() const;

    /// Throws InputError for an element too many wavelengths large.
    std::complex<double> at(const Vec3& point_m) const;
    double amplitude(const Vec3& point_m) const { return std::abs(at(point_m)); }
    /// The same for many points, on every thread; the bits do not depend on their number.
    std::vector<double> amplitudes(std::span<const Vec3> points_m) const;

    /// |p| R / (rho c v), in metres, at a distance R beyond every near zone in a direction (unit vector), without
    /// attenuation.
    double far_amplitude_m(const Vec3& direction) const;
    /// The same in the image plane, at an angle from z towards x.
    double far_amplitude_m(double angle_rad) const {
        return far_amplitude_m(Vec3(std::sin(angle_rad), 0.0, std::cos(angle_rad)));
    }

  private:
    struct Source {
        Element element;
        Vec3 lateral, elevation;
        std::complex<double> drive;  ///< weight, delay and faults
    };
    std::complex<double> rectangle(const Source& source, const Vec3& from_center) const;
    std::complex<double> far_face(const Source& source, const Vec3& direction) const;
    int face_points(double slope, double half, double offset, double distance) const;
    double elevation_slope(double half_height, double y, double distance) const;
    double lens_phase(double y_m) const;

    std::vector<Source> sources_;
    std::optional<HeadPose> pose_;
    std::complex<double> gamma_;
    double wavenumber_ = 0.0;
    bool soft_ = false;
    double elevation_focus_m_ = 0.0;
};

/// The event with every element firing at once; its beam is broadside.
TransmitEvent unfocused(const Probe& probe, const std::optional<HeadMotion>& head, TransmitEvent event);

}  // namespace echoloom
