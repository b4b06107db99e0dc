#pragma once
/// A scan: the sequence of transmit events, which elements receive each, and how they are sampled.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/array/probe.h"
#include "sim/base/settings.h"

namespace echoloom {

/// A diverging wave has its virtual source, behind the face, as its focus.
enum class TransmitKind { focused, plane, element, diverging };

/// A head that rotates about an axis along y through (0, 0, -axis_to_face_m) and carries the probe with it: at angle
/// 0 its face is centred on the origin and looks along z, at a positive angle it looks towards +x. What is said of an
/// element's place is then said in the head's own frame; an event's origin, direction and focus stay in the room's.
struct HeadMotion {
    double axis_to_face_m = 0.0;       ///< of the face's centre from the axis
    double rotation_rate_rad_s = 0.0;  ///< while it transmits and receives; 0 for an idealised head that stands still
};

/// The head's frame at an angle.
struct HeadPose {
    Vec3 origin_m;  ///< centre of the face
    Vec3 lateral;   ///< unit vectors of the frame; elevation is y
    Vec3 normal;
    /// A point of the room as the head sees it.
    Vec3 to_head(const Vec3& point_m) const {
        const Vec3 offset = point_m - origin_m;
        return {offset.dot(lateral), offset.y(), offset.dot(normal)};
    }
};
HeadPose head_pose(const HeadMotion& head, double angle_rad);

/// One firing. Time zero is the instant the wavefront passes `origin_m`.
struct TransmitEvent {
    TransmitKind kind = TransmitKind::focused;
    Vec3 origin_m = Vec3::Zero();
    Vec3 direction = Vec3::UnitZ();
    Vec3 focus_m = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());  ///< NaN where there is none
    std::vector<double> delay_s;                                              ///< [element]
    std::vector<double> weight;  ///< [element]; 0 for those that stay silent
    std::vector<int> receivers;  ///< [channel] the element that each channel records
    /// Time of sample 0, when the echo of the least depth comes first: 2 min_depth / c, or earlier for a tilted front
    /// or line, which is nearer to some element than to its origin.
    double start_time_s = 0.0;
    int line = 0;                 ///< scan line (or angle) it serves; several events of different focus may serve one
    double head_angle_rad = 0.0;  ///< of a moving head at time zero
};

struct Scan {
    std::string name;
    double sampling_rate_Hz = 0.0;
    /// Per channel and event: until the echo of the greatest depth has reached the outermost receiver from the line's
    /// end (or, for plane and diverging waves and single elements, from below either end of the array, or from a sector
    /// of 45 degrees to either side of a phased one) and the pulse has died away.
    std::size_t samples = 0;
    double sound_speed_m_s = 1540.0;  ///< assumed by the delay laws, whatever the medium is
    double min_depth_m = 0.0;
    double max_depth_m = 0.0;
    std::vector<TransmitEvent> events;   ///< every event has the same number of receivers
    std::optional<HeadMotion> head;      ///< of a mechanically swept probe
    std::optional<double> noise_snr_dB;  ///< rms of the whole recording's echoes over rms of the noise
    std::optional<int> quantization_bits;
    std::string source;  ///< exact TOML text

    std::size_t channels() const { return events.empty() ? 0 : events.front().receivers.size(); }
};

/// Reads a scan for a probe (see sim/scans/ for every key). Throws InputError.
Scan read_scan(Settings settings, const Probe& probe);
Scan load_scan(const std::string& path_or_name, const Probe& probe, std::span<const Override> overrides = {});

}  // namespace echoloom
