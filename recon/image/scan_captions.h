#pragma once
/// Captions of probes and scans, for pictures and reports.

#include <string>

#include "sim/recording/recording.h"

namespace echoloom {

inline const std::string no_break = "\u00a0";  ///< a space at which no line ends: a number keeps its unit

/// Millimetres to two decimals, with the unit; "no break" before it.
std::string in_mm(double length_m);
/// Degrees to one decimal, with the sign.
std::string in_degrees(double angle_rad);
std::string three_digits(double value);

/// What one event, or the events of one line, are called: "line", "wave" or "element".
std::string event_noun(const RecordingInfo& info);

/// "128 elements, 5 MHz", "128 elements on an arc of radius 60 mm, 3.5 MHz", "1.5-D array of
/// 64 columns and 5 rows", "6 rings, diameter 20 mm".
std::string describe_array(const Probe& probe);

/// "192 focused lines, transmit focus 60 mm", "96 focused lines from one point over +-45 deg, transmit foci 30 and
/// 70 mm", "31 plane waves over +-15 deg", "34 lines of a mechanical sector over +-35 deg, head rotating at 3000 rpm,
/// transmit focus 60 mm" and so on; empty where
/// there are no events.
std::string describe_scan(const RecordingInfo& info);

}  // namespace echoloom
