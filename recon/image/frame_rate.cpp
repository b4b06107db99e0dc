#include "recon/image/frame_rate.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>

#include "recon/image/scan_captions.h"
#include "sim/base/kept_settings.h"
#include "sim/base/text.h"

namespace echoloom {

double deepest_recorded_m(const RecordingInfo& info) {
    if (info.samples == 0 || info.events.empty()) {
        return 0.0;
    }
    double last_s = std::numeric_limits<double>::infinity();
    for (const TransmitEvent& event : info.events) {
        last_s = std::min(last_s, event.start_time_s + static_cast<double>(info.samples - 1) / info.sampling_rate_Hz);
    }
    return std::max(last_s, 0.0) * info.medium.sound_speed_m_s / 2.0;
}

std::optional<FrameRate> frame_rate(const RecordingInfo& info) {
    FrameRate rate;
    rate.events = info.events.size();
    rate.depth_m = info.scan_depth_m.value_or(deepest_recorded_m(info));
    rate.sound_speed_m_s = info.medium.sound_speed_m_s;
    if (rate.events == 0 || !(rate.depth_m > 0.0)) {
        return std::nullopt;
    }
    std::map<int, std::size_t> events_of_line;
    for (const TransmitEvent& event : info.events) {
        ++events_of_line[event.line];
    }
    rate.lines = events_of_line.size();
    const std::size_t first = events_of_line.begin()->second;
    const bool alike = std::ranges::all_of(events_of_line, [&](const auto& line) { return line.second == first; });
    rate.zones = alike ? first : 0;
    return rate;
}

std::optional<Rotor> rotor_of(const RecordingInfo& info) {
    if (!info.head || info.source.scan.empty()) {
        return std::nullopt;
    }
    constexpr double degree = std::numbers::pi / 180.0;
    Settings scan = kept_settings(info.source.scan, "/source/scan");
    const auto heads = scan.number_if("heads");
    const auto rotation_rate_rpm = scan.number_if("rotation_rate_rpm");
    const auto half_angle_deg = scan.number_if("window_half_angle_deg");
    if (!heads || !rotation_rate_rpm || !half_angle_deg) {
        return std::nullopt;
    }
    return Rotor{static_cast<int>(std::clamp(*heads, 1.0, 1e6)), *rotation_rate_rpm / 60.0, *half_angle_deg * degree,
                 info.head->axis_to_face_m};
}

std::string frame_rate_caption(const RecordingInfo& info) {
    const std::optional<FrameRate> rate = frame_rate(info);
    if (!rate) {
        return "";
    }
    if (const std::optional<Rotor> rotor = rotor_of(info)) {
        return "frame rate " + three_digits(sweep_rate_Hz(*rotor)) + no_break + "Hz";
    }
    std::string events = counted(rate->events, "event");
    if (rate->zones > 0) {
        events = counted(rate->lines, event_noun(info));
        events += rate->zones > 1 ? " \u00d7 " + counted(rate->zones, "zone") : "";
    }
    return "frame rate at most " + three_digits(rate->max_frame_rate_Hz()) + no_break + "Hz (" + events + ", " +
           in_mm(rate->depth_m) + ")";
}

}  // namespace echoloom
