#pragma once
/// When each element fires so that the front passes `origin` at time zero, in seconds (may be negative).
///
/// Focused: O. T. von Ramm & S. W. Smith, IEEE Trans. BME 30, 438-452, 1983 (from memory), as exact path differences.

#include <span>
#include <vector>

#include "sim/array/probe.h"

namespace echoloom {

/// Converging on `focus`: (|focus - origin| - |focus - element|) / c. An element at `origin` fires at time zero.
std::vector<double> focusing_delays(std::span<const Element> elements, const Vec3& origin, const Vec3& focus,
                                    double sound_speed_m_s);

/// Spreading from a virtual `source` behind the elements: (|element - source| - |origin - source|) / c.
std::vector<double> diverging_delays(std::span<const Element> elements, const Vec3& origin, const Vec3& source,
                                     double sound_speed_m_s);

/// Plane front along unit vector `direction`: ((element - origin) . direction) / c.
std::vector<double> plane_delays(std::span<const Element> elements, const Vec3& origin, const Vec3& direction,
                                 double sound_speed_m_s);

}  // namespace echoloom
