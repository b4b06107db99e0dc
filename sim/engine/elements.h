#pragma once
/// The probe's elements laid out for kernels: their centres and local axes as separate arrays, padded to whole vectors.

#include <cstddef>
#include <optional>
#include <vector>

#include "sim/array/probe.h"

namespace echoloom {

/// Elements are handled in groups of this many, the widest vector of any target; the last group repeats its last
/// element.
inline constexpr std::size_t element_group = 16;

struct ElementArrays {
    std::size_t count = 0;
    std::size_t padded = 0;  ///< a multiple of element_group
    std::vector<double> center_x, center_y, center_z;
    std::vector<double> lateral_x, lateral_y, lateral_z;
    std::vector<double> elevation_x, elevation_y, elevation_z;
    std::vector<double> normal_x, normal_y, normal_z;
    std::vector<double> half_width, half_height;
    bool soft = false;
    double elevation_focus_m = 0.0;
    double widest = 0.0;         ///< greatest half width
    double tallest = 0.0;        ///< greatest half height
    double outermost_row = 0.0;  ///< greatest |y| of a centre
};

ElementArrays element_arrays(const Probe& probe);

/// True for a row of equal elements on one straight line, all looking the same way.
bool is_straight_row(const Probe& probe);

/// Equal elements on a circle about an axis along elevation, all looking away from it.
struct Arc {
    Vec3 middle = Vec3::Zero();  ///< of the circle
    double radius_m = 0.0;
};
std::optional<Arc> find_arc(const Probe& probe);

/// Delay of an elevation lens at height y: -(sqrt(F^2 + y^2) - F) / c; the rim is advanced. 0 without a lens.
double lens_delay_s(double elevation_focus_m, double y_m, double sound_speed_m_s);

}  // namespace echoloom
