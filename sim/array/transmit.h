#pragma once
/// The transmit events a scan is made of.

#include <vector>

#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/array/window.h"

namespace echoloom {

/// Index of the first of the `count` neighbouring elements whose middle is nearest to `x_m`; of two sets equally near,
/// the one further along +x. The row is thought to go on past its ends: the set may begin before element 0 and end
/// after the last, but always holds an element.
int first_of_nearest(const Probe& probe, double x_m, int count);

/// The same set shifted inward until every element of it exists. `count` is at most the number of elements.
std::vector<int> nearest_elements(const Probe& probe, double x_m, int count);

/// How the transmit aperture of a line is made.
struct FocusedTransmit {
    double focus_m = 0.0;    ///< along the line, from its origin
    double steer_rad = 0.0;  ///< from +z towards +x
    int elements = 0;        ///< those past the array's ends are missing
    Window window;           ///< over the aperture's own `elements`, whether they exist or not
};

/// One line that leaves the array at `x_m`.
TransmitEvent focused_event(const Probe& probe, const FocusedTransmit& transmit, double x_m, double sound_speed_m_s);

/// A plane front at an angle from all elements; its origin is the centre of the array.
TransmitEvent plane_event(const Probe& probe, const Window& window, double angle_rad, double sound_speed_m_s);

/// One element alone; its origin is its centre.
TransmitEvent element_event(const Probe& probe, int element);

/// Half the width of the array, to the outer edges of its outermost elements' pitch cells.
double half_width_m(const Probe& probe);

}  // namespace echoloom
