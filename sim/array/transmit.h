#pragma once
/// The transmit events a scan is made of.

#include <vector>

#include "sim/array/probe.h"
#include "sim/array/scan.h"
#include "sim/array/window.h"

namespace echoloom {

/// Index of the first of the `count` neighbouring columns whose middle is nearest to a place along the face; of two
/// sets equally near, the one further along. The row is thought to go on past its ends: the set may begin before column
/// 0 and end after the last, but always holds a column.
int first_of_nearest(const Probe& probe, double lateral_m, int count);

/// The elements, every row, of the same columns shifted inward until all of them exist. `count` is at most the number
/// of columns.
std::vector<int> nearest_elements(const Probe& probe, double lateral_m, int count);

/// How the transmit aperture of a line is made.
struct FocusedTransmit {
    double focus_m = 0.0;  ///< along the line, from its origin
    int columns = 0;       ///< those past the array's ends are missing
    Window window;         ///< over the aperture's own `columns`, whether they exist or not
};

/// A scan line: where it leaves the face and which way it goes.
struct ScanLine {
    double lateral_m = 0.0;  ///< of its origin, along the face
    Vec3 origin_m = Vec3::Zero();
    Vec3 direction = Vec3::UnitZ();
};

/// One line, focused on it.
TransmitEvent focused_event(const Probe& probe, const FocusedTransmit& transmit, const ScanLine& line,
                            double sound_speed_m_s);

/// A wave from a virtual source `behind_m` behind a place of the face, transmitted by the columns nearest to it (those
/// past the array's ends are missing), or by all where `columns` is all; time zero is when it passes that place.
TransmitEvent diverging_event(const Probe& probe, const Window& window, int columns, double lateral_m, double behind_m,
                              double sound_speed_m_s);

/// The beam of a head at an angle, focused on its axis by the innermost `rings` of an annular array.
struct SweptTransmit {
    double focus_m = 0.0;
    int rings = 0;
    Window window;  ///< over the diameter of those rings
};
TransmitEvent swept_event(const Probe& probe, const HeadMotion& head, const SweptTransmit& transmit, double angle_rad,
                          double sound_speed_m_s);

/// A plane front at an angle from all elements; its origin is the centre of the array.
TransmitEvent plane_event(const Probe& probe, const Window& window, double angle_rad, double sound_speed_m_s);

/// One element alone; its origin is its centre.
TransmitEvent element_event(const Probe& probe, int element);

/// Unit vector in the image plane, from +z towards +x.
Vec3 direction_at(double angle_rad);

}  // namespace echoloom
