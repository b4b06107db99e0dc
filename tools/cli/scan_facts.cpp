#include "tools/cli/scan_facts.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <set>

#include "recon/image/frame_rate.h"
#include "recon/image/scan_captions.h"
#include "sim/array/face.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

using Json = nlohmann::ordered_json;

/// Two decimals of a millimetre are enough for words.
std::string mm(double length_m) {
    return plain(std::round(length_m * 1e5) / 1e2);
}

/// JSON has no infinity.
Json number_or_null(double value) {
    return std::isfinite(value) ? Json(value) : Json();
}

/// Rounded to a multiple of `step`.
std::string rounded_to(double value, double step) {
    const double inverse = std::round(1.0 / step);
    return plain(std::round(value * inverse) / inverse);
}

std::string shape_words(const Probe& probe) {
    const Element& element = probe.elements.front();
    if (probe.kind == "annular") {
        std::string words = counted(probe.elements.size(), "ring") + " with edges at radii ";
        for (std::size_t ring = 0; ring < probe.elements.size(); ++ring) {
            words +=
                (ring == 0 ? "" : ", ") + mm(probe.elements[ring].inner_m) + "-" + mm(probe.elements[ring].outer_m);
        }
        return words + " mm";
    }
    double leftmost = element.center_m.x();
    double rightmost = leftmost;
    for (const Element& other : probe.elements) {
        leftmost = std::min(leftmost, other.center_m.x());
        rightmost = std::max(rightmost, other.center_m.x());
    }
    std::string words = counted(probe.elements.size(), "element");
    if (probe.rows > 1) {
        words += " (" + counted(static_cast<std::size_t>(column_count(probe)), "column") + " of " +
                 counted(static_cast<std::size_t>(probe.rows), "row") + ")";
    }
    words += ", " + mm(element.width_m) + " mm wide and " + mm(element.height_m) + " mm high, ";
    if (probe.radius_m > 0.0) {
        const double span_deg = 2.0 * half_face_m(probe) / probe.radius_m * 180.0 / std::numbers::pi;
        words +=
            "on an arc of radius " + mm(probe.radius_m) + " mm that spans " + three_digits(span_deg) + " degrees, ";
    }
    return words + "centres from x = " + mm(leftmost) + " to " + mm(rightmost) + " mm";
}

/// Pitch against the wavelength decides how far lines may be steered before a grating lobe appears.
std::string pitch_words(const Probe& probe, const Medium& medium) {
    if (!(probe.pitch_m > 0.0)) {
        return "";
    }
    return "; pitch " + three_digits(probe.pitch_m / probe.wavelength_m(medium.sound_speed_m_s)) + " wavelengths";
}

/// "linear array", "1.5-D array".
std::string kind_words(const Probe& probe) {
    return (probe.rows > 1 ? "1.5-D" : probe.kind) + " array";
}

void add_probe(Facts& facts, const Probe& probe, const Medium& medium) {
    const Element& element = probe.elements.front();
    const bool lens = std::isfinite(probe.elevation_focus_m);
    const std::string baffle = probe.baffle == Baffle::rigid ? "rigid" : "soft";
    facts.add("probe",
              (probe.name.empty() ? "" : probe.name + ": ") + kind_words(probe) + " of " + shape_words(probe) +
                  pitch_words(probe, medium) + "; " +
                  (lens ? "lens at " + mm(probe.elevation_focus_m) + " mm" : "no lens") + "; " + baffle + " baffle",
              {{"probe", probe.name},
               {"probe_kind", probe.kind},
               {"elements", probe.elements.size()},
               {"rows", probe.rows},
               {"element_width_m", element.width_m},
               {"element_height_m", element.height_m},
               {"pitch_m", probe.pitch_m > 0.0 ? Json(probe.pitch_m) : Json()},
               {"radius_m", probe.radius_m > 0.0 ? Json(probe.radius_m) : Json()},
               {"elevation_focus_m", number_or_null(probe.elevation_focus_m)},
               {"baffle", baffle}});
}

void add_pulse(Facts& facts, const Probe& probe, const Medium& medium) {
    facts.add("pulse",
              plain(probe.center_Hz * 1e-6) + " MHz, " + plain(probe.bandwidth_fraction * 100.0) +
                  " % two-way bandwidth at half amplitude; wavelength " +
                  plain(std::round(probe.wavelength_m(medium.sound_speed_m_s) * 1e6) / 1e3) + " mm",
              {{"center_Hz", probe.center_Hz}, {"bandwidth_fraction", probe.bandwidth_fraction}});
}

std::string event_kind(const RecordingInfo& info) {
    if (info.head) {
        return "focused along the axis of a rotating head";
    }
    switch (info.events.front().kind) {
        case TransmitKind::focused:
            return "focused along lines";
        case TransmitKind::plane:
            return "plane waves";
        case TransmitKind::element:
            return "single elements, one at a time";
        case TransmitKind::diverging:
            return "diverging waves";
    }
    return "";
}

std::string transmitting_words(const RecordingInfo& info) {
    const TransmitEvent& middle = info.events[info.events.size() / 2];
    const auto firing = std::ranges::count_if(middle.weight, [](double weight) { return weight != 0.0; });
    return counted(static_cast<std::size_t>(firing), info.probe.kind == "annular" ? "ring" : "element") +
           " transmitting in the middle event";
}

void add_events(Facts& facts, const RecordingInfo& info) {
    std::set<int> lines;
    for (const TransmitEvent& event : info.events) {
        lines.insert(event.line);
    }
    const std::string kind = event_kind(info);
    const bool one_each = lines.size() == info.events.size();
    facts.add("events",
              (one_each ? "" : counted(info.events.size(), "event") + ": ") + describe_scan(info) + "; " +
                  transmitting_words(info),
              {{"events", info.events.size()}, {"event_kind", kind}, {"lines", lines.size()}});
}

/// "1540 m/s / (2 x 150 mm x 128 lines x 2 zones)".
std::string quotient_words(const FrameRate& rate, const RecordingInfo& info) {
    const std::string noun = event_noun(info);
    std::string words = plain(rate.sound_speed_m_s) + " m/s / (2 x " + mm(rate.depth_m) + " mm x ";
    words += rate.zones > 0 ? counted(rate.lines, noun) : counted(rate.events, "event");
    words += rate.zones > 1 ? " x " + counted(rate.zones, "zone") : "";
    return words + "), which is c / (2 depth " + (rate.zones > 0 ? noun + "s" : "events") +
           (rate.zones > 1 ? " zones)" : ")");
}

void add_frame_rate(Facts& facts, const RecordingInfo& info) {
    const std::optional<FrameRate> rate = frame_rate(info);
    if (!rate) {
        return;
    }
    facts.add("frame rate", frame_rate_formula(info),
              {{"max_frame_rate_Hz", rate->max_frame_rate_Hz()},
               {"frame_lines", rate->lines},
               {"frame_zones", rate->zones > 0 ? Json(rate->zones) : Json()},
               {"frame_depth_m", rate->depth_m}});
    facts.add("round trip",
              rounded_to(rate->round_trip_s() * 1e6, 0.1) + " us to " + mm(rate->depth_m) +
                  " mm and back, 2 depth / c" + (info.scan_depth_m ? "" : ", by the time of the echoes"),
              {{"round_trip_s", rate->round_trip_s()}});
}

/// A head sweeps whatever the echoes do: what must fit is a line's round trip, as often as there are lines.
void add_sweep(Facts& facts, const RecordingInfo& info) {
    if (!info.head) {
        return;
    }
    const std::optional<FrameRate> rate = frame_rate(info);
    constexpr double degree = std::numbers::pi / 180.0;
    std::string head = "face " + mm(info.head->axis_to_face_m) + " mm from the axis it turns about; ";
    if (info.head->rotation_rate_rad_s == 0.0) {
        head += "standing still from transmit to receive";
    } else if (rate) {
        head += "turns by " + rounded_to(info.head->rotation_rate_rad_s * rate->round_trip_s() / degree, 1e-3) +
                " degrees during a round trip";
    }
    facts.add("head", head,
              {{"axis_to_face_m", info.head->axis_to_face_m}, {"rotation_rate_rad_s", info.head->rotation_rate_rad_s}});
    const std::optional<Rotor> rotor = rotor_of(info);
    if (!rotor || !rate) {
        return;
    }
    const int max_lines = lines_in_sweep(*rotor, rate->round_trip_s());
    facts.add("sweep rate",
              rounded_to(sweep_rate_Hz(*rotor), 1e-3) +
                  " Hz: " + counted(static_cast<std::size_t>(rotor->heads), "head") + " x " +
                  rounded_to(rotor->rotations_per_s, 1e-3) + " turns per second; each crosses the window in " +
                  rounded_to(sweep_time_s(*rotor) * 1e3, 1e-3) + " ms, time for " +
                  counted(static_cast<std::size_t>(max_lines), "round trip") + " (lines) at most; this scan has " +
                  std::to_string(rate->lines),
              {{"sweep_rate_Hz", sweep_rate_Hz(*rotor)},
               {"sweep_time_s", sweep_time_s(*rotor)},
               {"max_lines_per_sweep", max_lines}});
}

void add_sampling(Facts& facts, const RecordingInfo& info) {
    const double bytes = 4.0 * static_cast<double>(info.events.size() * info.channels * info.samples);
    facts.add("samples",
              counted(info.channels, "channel") + " by " + counted(info.samples, "sample") + " an event at " +
                  plain(info.sampling_rate_Hz * 1e-6) + " MHz, " + human_bytes(bytes),
              {{"channels", info.channels}, {"samples", info.samples}, {"sampling_rate_Hz", info.sampling_rate_Hz}});

    double first_s = std::numeric_limits<double>::infinity();
    for (const TransmitEvent& event : info.events) {
        first_s = std::min(first_s, event.start_time_s);
    }
    const double speed = info.medium.sound_speed_m_s;
    const double shallowest = std::max(first_s, 0.0) * speed / 2.0;
    const double deepest = deepest_recorded_m(info);
    facts.add("depth", mm(shallowest) + " to " + mm(deepest) + " mm by the time of echoes straight back",
              {{"min_depth_m", shallowest}, {"max_depth_m", deepest}});
}

}  // namespace

std::string frame_rate_formula(const RecordingInfo& info) {
    const std::optional<FrameRate> rate = frame_rate(info);
    return rate ? "at most " + rounded_to(rate->max_frame_rate_Hz(), 1e-3) + " Hz: " + quotient_words(*rate, info)
                : "not known";
}

void add_array(Facts& facts, const Probe& probe, const Medium& medium) {
    add_probe(facts, probe, medium);
    add_pulse(facts, probe, medium);
}

void add_array_and_scan(Facts& facts, const RecordingInfo& info) {
    add_array(facts, info.probe, info.medium);
    add_events(facts, info);
    add_sampling(facts, info);
    add_timing(facts, info);
}

void add_timing(Facts& facts, const RecordingInfo& info) {
    add_frame_rate(facts, info);
    add_sweep(facts, info);
}

}  // namespace echoloom
