#include "sim/recording/recording.h"

namespace echoloom {

RecordingInfo planned_recording(const Probe& probe, const Scan& scan) {
    RecordingInfo info;
    info.probe = probe;
    info.sampling_rate_Hz = scan.sampling_rate_Hz;
    info.samples = scan.samples;
    info.channels = scan.channels();
    info.events = scan.events;
    info.head = scan.head;
    info.scan_depth_m = scan.max_depth_m;
    info.medium.sound_speed_m_s = scan.sound_speed_m_s;
    info.source.scan = scan.source;
    return info;
}

}  // namespace echoloom
