#pragma once
/// Recordings made by the tests themselves: an echo is nothing but a delayed pulse, so that where it must appear is
/// known exactly. No engine is involved.

#include <functional>
#include <vector>

#include "recon/beamform/beamform.h"

namespace echoloom::testing {

struct Synthetic {
    RecordingInfo info;
    std::vector<std::vector<float>> samples;  ///< [event][channel * samples]

    EventReader reader() const;
};

/// A flat array of elements at equal pitch, centred at x = 0.
Probe flat_probe(int elements, double pitch_m, double center_Hz, double bandwidth_fraction);

/// An arc of elements, each looking outwards, and rings of equal area, of the same pulse: 5 MHz, 60 %.
Probe curved_probe(int elements, double pitch_m, double radius_m);
Probe ring_probe(int rings, double radius_m);

/// The zero-phase Gaussian pulse of the probe at time t, by its definition in sim/array/pulse.h.
double gaussian_pulse(const Probe& probe, double t_s);

/// Empty recordings of each kind, 40 MHz; `samples` per channel.
Synthetic line_recording(const Probe& probe, const std::vector<Vec3>& origins, const Vec3& direction, int receivers,
                         std::size_t samples);
Synthetic full_matrix_recording(const Probe& probe, std::size_t samples);
Synthetic plane_wave_recording(const Probe& probe, const std::vector<double>& angles_rad, std::size_t samples);

Synthetic diverging_recording(const Probe& probe, const std::vector<Vec3>& sources, std::size_t samples);

/// Focused events, transmitted by all elements within half an aperture of each line's origin along the face, with the
/// delays that bring them together at the focus at time |focus - origin| / c; all elements receive.
struct FocusedLine {
    Vec3 origin_m;
    Vec3 direction;
    double focus_m;
    double half_aperture_m;
};
Synthetic focused_recording(const Probe& probe, const std::vector<FocusedLine>& lines, std::size_t samples);

/// Adds the echo of a point to a recording of focused events, as the sum of what every firing element transmits there,
/// each falling off with distance: 1 at 30 mm from the whole array.
void add_focused_echo(Synthetic& recording, const Vec3& point_m);

/// Adds the echo of a point: a pulse at (transmit path + |point - element|) / c on every channel.
/// `transmit_path_m` of an event.
void add_echo(Synthetic& recording, const Vec3& point_m, double amplitude,
              const std::function<double(const TransmitEvent&)>& transmit_path_m);

/// The transmit path of plane-wave, diverging and full-matrix events, written out here a second time on purpose.
double event_path_m(const Synthetic& recording, const TransmitEvent& event, const Vec3& point_m);

/// A deterministic stream of numbers in [-1, 1).
double noise(std::uint64_t index);

/// Position and height of the largest value of a sampled curve, by a parabola through its three highest samples.
double peak_place(const std::vector<double>& curve);
double peak_height(const std::vector<double>& curve);

/// Full width at a fraction of the maximum of a curve, between linearly interpolated crossings, in samples.
double width_at(const std::vector<double>& curve, double fraction);

}  // namespace echoloom::testing
