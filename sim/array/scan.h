#pragma once
/// A scan: the sequence of transmit events, which channels listen to each, and how they are sampled.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/array/probe.h"
#include "sim/base/settings.h"

namespace echoloom {

enum class TransmitKind { focused, plane, element };

/// One firing. Time zero is the instant the wavefront passes `origin_m`.
struct TransmitEvent {
    TransmitKind kind = TransmitKind::focused;
    Vec3 origin_m = Vec3::Zero();
    Vec3 direction = Vec3::UnitZ();
    Vec3 focus_m = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());  ///< NaN where there is none
    std::vector<double> delay_s;                                              ///< [element]
    std::vector<double> weight;  ///< [element]; 0 for those that stay silent
    std::vector<int> listeners;  ///< [channel] the element each channel heard
    /// Time of sample 0, when the echo of the least depth comes first: 2 least_depth / c, or earlier for a tilted front
    /// or line, which is nearer to some element than to its origin.
    double start_time_s = 0.0;
    int line = 0;  ///< scan line (or angle) it serves
};

struct Scan {
    std::string name;
    double sampling_rate_Hz = 0.0;
    /// Per channel and event: until the echo of the greatest depth has reached the outermost listener from the line's
    /// end (or, for plane waves and single elements, from below either end of the array) and the pulse has died away.
    std::size_t samples = 0;
    double sound_speed_m_s = 1540.0;  ///< assumed by the delay laws, whatever the medium is
    double least_depth_m = 0.0;
    double most_depth_m = 0.0;
    std::vector<TransmitEvent> events;   ///< every event has the same number of listeners
    std::optional<double> noise_snr_dB;  ///< rms of the whole recording's echoes over rms of the noise
    std::optional<int> quantization_bits;
    std::string source;  ///< exact TOML text

    std::size_t channels() const { return events.empty() ? 0 : events.front().listeners.size(); }
};

/// Reads a scan for a probe (see sim/scans/ for every key). Throws InputError.
Scan read_scan(Settings settings, const Probe& probe);
Scan load_scan(const std::string& path_or_name, const Probe& probe, std::span<const Override> overrides = {});

}  // namespace echoloom
