#pragma once
/// A wheel of heads that transmit through one window, one after the other: a mechanical sector.

#include <cmath>
#include <numbers>

namespace echoloom {

struct Rotor {
    int heads = 1;
    double rotations_per_s = 0.0;
    double window_half_angle_rad = 0.0;  ///< of the sector each head looks over
    double axis_to_face_m = 0.0;
};

inline double rotation_rate_rad_s(const Rotor& rotor) {
    return 2.0 * std::numbers::pi * rotor.rotations_per_s;
}

/// For which one head looks out of the window.
inline double sweep_time_s(const Rotor& rotor) {
    return 2.0 * rotor.window_half_angle_rad / rotation_rate_rad_s(rotor);
}

inline double sweep_rate_Hz(const Rotor& rotor) {
    return rotor.heads * rotor.rotations_per_s;
}

/// Most lines of a sweep whose echoes all return, one after the other, before the head leaves the window.
inline int lines_in_sweep(const Rotor& rotor, double round_trip_s) {
    return static_cast<int>(std::fmin(std::floor(sweep_time_s(rotor) / round_trip_s * (1.0 + 1e-12)), 1e9));
}

}  // namespace echoloom
