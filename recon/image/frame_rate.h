#pragma once
/// Frame rate: the echoes of one event must be back before the next one is transmitted.

#include <cstddef>
#include <optional>
#include <string>

#include "sim/array/rotor.h"
#include "sim/recording/recording.h"

namespace echoloom {

struct FrameRate {
    std::size_t events = 0;  ///< of one picture
    std::size_t lines = 0;   ///< different TransmitEvent::line
    std::size_t zones = 0;   ///< events of each line; 0 where lines have unequal numbers
    double depth_m = 0.0;    ///< to which each event waits
    double sound_speed_m_s = 0.0;
    double round_trip_s() const { return 2.0 * depth_m / sound_speed_m_s; }
    /// c / (2 depth lines zones): any textbook of diagnostic ultrasound, from memory.
    double max_frame_rate_Hz() const { return 1.0 / (round_trip_s() * static_cast<double>(events)); }
};

/// By the depth the scan was made for or, where a recording does not state it, by the time of its echoes. Empty where
/// no event receives anything.
std::optional<FrameRate> frame_rate(const RecordingInfo& info);

/// The deepest place whose echo, straight back, falls into every event's samples.
double deepest_recorded_m(const RecordingInfo& info);

/// The rotor a swept scan was made for, from the scan's own text; empty where it is not stated there.
std::optional<Rotor> rotor_of(const RecordingInfo& info);

/// "frame rate at most 20.1 Hz (128 lines x 2 zones, 150 mm)" with a multiplication sign, or for a wheel of heads
/// "frame rate 250 Hz"; empty where neither is known.
std::string frame_rate_caption(const RecordingInfo& info);

}  // namespace echoloom
