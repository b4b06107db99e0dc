#pragma once
/// Delay laws of a row of elements on the x axis, focused at range R and angle theta from its normal.
///
/// Source: O. T. von Ramm & S. W. Smith, "Beam steering with linear arrays", IEEE Trans. BME 30, 438-452, 1983 (law
/// from memory): element x fires later by tau(x) = (R - sqrt(R^2 + x^2 - 2 x R sin theta)) / c, the sign of
/// delay_law.h. Numbers recomputed for c = 1540 m/s by recompute_timing.py, independently of this code.

#include <array>

namespace echoloom::published {

inline constexpr std::array<double, 6> delay_x_mm = {-9.45, -5.0, 1.0, 5.0, 9.45, 10.0};

struct DelayRow {
    double range_mm;
    double angle_deg;
    std::array<double, 6> delay_ns;  ///< at delay_x_mm
};

inline constexpr std::array<DelayRow, 2> delays = {
    {{40.0, 0.0, {-715.016421, -202.135546, -8.115615, -202.135546, -715.016421, -799.387179}},
     {40.0, 20.0, {-2684.855301, -1281.751515, 214.862815, 923.966945, 1412.297777, 1449.676794}}}};

/// What the parabolic law (x sin theta - x^2 cos^2 theta / (2 R)) / c adds to the exact one.
struct ParabolicError {
    double range_mm;
    double angle_deg;
    double x_mm;
    double error_ns;
};

inline constexpr std::array<ParabolicError, 4> parabolic_errors = {
    {{40.0, 0.0, 10.0, -12.301}, {40.0, 20.0, 10.0, 54.494}, {20.0, 0.0, 10.0, -90.468}, {40.0, 0.0, 5.0, -0.787}}};

}  // namespace echoloom::published
