#include "tools/cli/import_report.h"

#include <algorithm>
#include <cmath>

#include "sim/base/text.h"

namespace echoloom {

namespace {

using Json = nlohmann::ordered_json;

constexpr double us = 1e-6;
constexpr double clear_dB = 3.0;  // one reading fits so much better than another: common practice, no source

std::string rounded(double value, double unit, int decimals) {
    const double tens = std::pow(10.0, decimals);
    return plain(std::round(value / unit * tens) / tens + 0.0);
}

/// To three digits.
std::string significant(double value) {
    const double unit = value == 0.0 ? 1.0 : std::pow(10.0, std::floor(std::log10(std::abs(value))) - 2.0);
    return plain(std::round(value / unit) * unit);
}

/// "(1, 0, 30) mm".
std::string place_in_words(const Vec3& place_m) {
    return '(' + rounded(place_m.x(), 1e-3, 2) + ", " + rounded(place_m.y(), 1e-3, 2) + ", " +
           rounded(place_m.z(), 1e-3, 2) + ") mm";
}

double first_sample_s(const RecordingInfo& info) {
    double first_s = no_limit;
    for (const TransmitEvent& event : info.events) {
        first_s = std::min(first_s, event.start_time_s);
    }
    return first_s;
}

void add_record(Facts& facts, const ImportReport& report) {
    const RecordingInfo& info = report.info;
    const double first_s = first_sample_s(info);
    double last_s = first_s;
    for (const TransmitEvent& event : info.events) {
        last_s = std::max(last_s, event.start_time_s);
    }
    last_s += static_cast<double>(info.samples - 1) / info.sampling_rate_Hz;
    const double half_speed = 0.5 * info.medium.sound_speed_m_s;
    facts.add("samples",
              report.samples_name + ": " + counted(info.events.size(), "event") + " x " +
                  counted(info.channels, "channel") + " x " + counted(info.samples, "sample") + " of " +
                  word_of(report.type),
              {{"events", info.events.size()},
               {"channels", info.channels},
               {"samples", info.samples},
               {"type", word_of(report.type)}});
    facts.add("record",
              rounded(first_s, us, 2) + " to " + rounded(last_s, us, 2) +
                  " us after the front passes the origin; at "
                  "broadside that is " +
                  rounded(std::max(0.0, first_s) * half_speed, 1e-3, 1) + " to " +
                  rounded(last_s * half_speed, 1e-3, 1) + " mm",
              {{"first_s", first_s}, {"last_s", last_s}});
}

void add_levels(Facts& facts, const SampleChecks& checks) {
    facts.add("levels",
              plain(checks.least) + " to " + plain(checks.most) + "; rms of the middle element " +
                  significant(checks.median_rms),
              {{"min", checks.least}, {"max", checks.most}, {"median_rms", checks.median_rms}});
}

std::string listed(const std::vector<ElementLevel>& elements) {
    constexpr std::size_t max_listed = 12;
    std::string words;
    for (std::size_t i = 0; i < std::min(max_listed, elements.size()); ++i) {
        words += (words.empty() ? "" : ", ") + std::to_string(elements[i].element);
    }
    return words +
           (elements.size() > max_listed ? " and " + std::to_string(elements.size() - max_listed) + " more" : "");
}

Json numbers_of(const std::vector<ElementLevel>& elements) {
    Json numbers = Json::array();
    for (const ElementLevel& element : elements) {
        numbers.push_back(element.element);
    }
    return numbers;
}

void add_elements(Facts& facts, const SampleChecks& checks) {
    const Json numbers = {{"dead_elements", numbers_of(checks.dead)}, {"weak_elements", numbers_of(checks.weak)}};
    if (checks.median_rms == 0.0) {
        facts.add("elements",
                  "warning: most elements received nothing at all; check samples.order, samples.type and "
                  "samples.header_bytes",
                  numbers);
        return;
    }
    if (checks.dead.empty() && checks.weak.empty()) {
        facts.add("elements", "all " + counted(checks.elements.size(), "receiving element") + " received something",
                  numbers);
        return;
    }
    if (!checks.dead.empty()) {
        facts.add("elements",
                  "warning: " + std::to_string(checks.dead.size()) +
                      " dead (40 dB and more below the middle element): " + listed(checks.dead),
                  numbers);
    }
    if (!checks.weak.empty()) {
        facts.add(checks.dead.empty() ? "elements" : "",
                  "warning: " + std::to_string(checks.weak.size()) +
                      " weak (20 dB and more below the middle element): " + listed(checks.weak),
                  numbers);
    }
}

void add_clipping(Facts& facts, const SampleChecks& checks, const RecordingInfo& info) {
    if (!checks.clipping) {
        facts.add("clipping", "none", {{"clipped_traces", 0}});
        return;
    }
    const Clipping& clipping = *checks.clipping;
    facts.add("clipping",
              "warning: " + std::to_string(clipping.traces) + " of " + counted(checks.traces, "trace") +
                  (clipping.traces == 1 ? " is flat at " : " are flat at ") + plain(clipping.at) + ", between " +
                  rounded(clipping.first_s, us, 2) + " and " + rounded(clipping.last_s, us, 2) + " us",
              {{"clipped_traces", clipping.traces},
               {"clipped_at", clipping.at},
               {"clipped_first_s", clipping.first_s},
               {"clipped_last_s", clipping.last_s}});
    constexpr double burst_s = 5e-6;  // it rings on in lens and cable; common practice, no source
    const double end_m = 0.5 * std::max(0.0, clipping.last_s) * info.medium.sound_speed_m_s;
    facts.add("", clipping.last_s - first_sample_s(info) <= burst_s
                      ? "so early, it is the transmit burst: it does no harm to echoes deeper than " +
                            rounded(end_m, 1e-3, 1) + " mm"
                      : "a flat echo has a wrong width and wrong side lobes; lower the gain and record again");
}

void add_offset(Facts& facts, const SampleChecks& checks) {
    constexpr double much = 0.1;
    const std::string words = "up to " + rounded(checks.worst_offset, 0.01, 1) + " % of an element's rms (element " +
                              std::to_string(checks.worst_offset_element) + ')';
    facts.add(
        "offset",
        checks.worst_offset > much ? "warning: " + words + "; a recipe's high-pass removes it unless it is 0" : words,
        {{"worst_offset_over_rms", checks.worst_offset}, {"worst_offset_element", checks.worst_offset_element}});
}

void add_band(Facts& facts, const SampleChecks& checks, const Probe& probe) {
    // Loss and directivity take a good part of the upper band; a rate that is wrong by two takes more.
    constexpr double min_ratio = 0.6, max_ratio = 1.5;
    if (!checks.center_Hz) {
        return;
    }
    const std::string words = "middle at " + rounded(*checks.center_Hz, 1e6, 2) + " MHz; the probe's centre is " +
                              rounded(probe.center_Hz, 1e6, 2) + " MHz";
    const bool off = *checks.center_Hz < min_ratio * probe.center_Hz || *checks.center_Hz > max_ratio * probe.center_Hz;
    facts.add("band", off ? "warning: " + words + "; is timing.sampling_MHz right, and samples.type?" : words,
              {{"center_Hz", *checks.center_Hz}});
}

void add_fit(Facts& facts, const ImportReport& report) {
    if (!report.fit) {
        return;
    }
    constexpr double much = 0.125;  // of a period: the edge of what focusing tolerates; common practice, no source
    const DelayFit& fit = *report.fit;
    const double period_s = 1.0 / report.info.probe.center_Hz;
    const std::string words = "within " + rounded(fit.worst_rms_s, 1e-9, 1) +
                              " ns rms of ideal fronts (worst in event " + std::to_string(fit.worst_event + 1) + ')';
    const bool off = fit.worst_rms_s > much * period_s;
    const bool sign = off && fit.negated_rms_s < 0.5 * fit.worst_rms_s;
    facts.add("delays", off ? "warning: " + words : words,
              {{"delay_misfit_s", fit.worst_rms_s},
               {"delay_misfit_event_index", fit.worst_event},
               {"negated_misfit_s", fit.negated_rms_s}});
    if (sign) {
        facts.add("", "negated they would fit within " + rounded(fit.negated_rms_s, 1e-9, 1) +
                          " ns: give negate_delays = true, or reverse the sign of the angle or of x");
    } else if (off) {
        facts.add(
            "", "that is " + rounded(fit.worst_rms_s / period_s, 1.0, 2) +
                    " periods; check the unit (microseconds), the event's angle, focus or source, and the sound speed");
    }
}

std::string reading_in_words(const Reading& reading) {
    return reading.delays_negated && reading.channels_reversed ? "both"
           : reading.delays_negated                            ? "delays negated"
                                                               : "channels reversed";
}

double better_dB(const Reading& one, const Reading& other) {
    return 20.0 * std::log10(std::max(one.sum, 1e-300) / std::max(other.sum, 1e-300));
}

/// Whether delays and channels could be distinguished from their mirror images, where they are as stated.
void add_turned(Facts& facts, const Arrival& arrival) {
    std::string apart, alike;
    for (const Reading& other : arrival.others) {
        const double lead_dB = better_dB(arrival.as_stated, other);
        std::string& words = lead_dB >= clear_dB ? apart : alike;
        words += (words.empty() ? "" : ", ") + reading_in_words(other) +
                 (lead_dB >= clear_dB ? " (-" + rounded(lead_dB, 1.0, 0) + " dB)" : "");
    }
    if (!apart.empty()) {
        facts.add("", "mirror images fit worse: " + apart);
    }
    if (!alike.empty()) {
        facts.add("", "fit as well at this point: " + alike + "; give one well off the middle");
    }
}

/// Where another reading explains the echo far better, that comes before anything about timing.
bool add_better_reading(Facts& facts, const Arrival& arrival, const std::string& where) {
    const auto best = std::ranges::max_element(arrival.others, {}, &Reading::sum);
    if (best == arrival.others.end() || better_dB(*best, arrival.as_stated) < clear_dB) {
        return false;
    }
    const std::string mirrored = best->delays_negated && best->channels_reversed
                                     ? "delays negated and channels reversed"
                                     : reading_in_words(*best);
    facts.add("point", "warning: " + where + ": the echo is " + rounded(better_dB(*best, arrival.as_stated), 1.0, 0) +
                           " dB stronger with " + mirrored + " than as stated");
    facts.add("",
              best->delays_negated && best->channels_reversed
                  ? "turn the probe's description round: reverse samples.channel_elements and the sign of the scan's "
                    "angles, or the point's x"
              : best->delays_negated
                  ? "reverse the sign of the scan's angles, or give negate_delays = true for delays of "
                    "your own"
                  : "give samples.channel_elements from the last element to the first");
    return true;
}

Json json_of(const Reading& reading) {
    return {{"delays_negated", reading.delays_negated},
            {"channels_reversed", reading.channels_reversed},
            {"late_s", reading.late_s},
            {"coherence", reading.coherence},
            {"sum", reading.sum}};
}

void add_arrival(Facts& facts, const Arrival& arrival, const RecordingInfo& info) {
    const Reading& stated = arrival.as_stated;
    const std::string where = place_in_words(arrival.point_m);
    const double depth_m = 0.5 * stated.late_s * info.medium.sound_speed_m_s;
    if (!arrival.found()) {
        facts.add("point", "warning: no echo that " + counted(arrival.traces, "trace") +
                               (arrival.traces == 1 ? " shows" : " agree on") + " within " +
                               rounded(arrival_reach_s, us, 0) + " us of " + where);
        facts.add(
            "",
            "check the point's position, timing.first_sample_us and timing.zero, the sound speed, the probe's pitch");
        return;
    }
    if (add_better_reading(facts, arrival, where)) {
        return;
    }
    const double period_s = 1.0 / info.probe.center_Hz;
    const bool off = std::abs(stated.late_s) > 0.5 * period_s;
    const std::string words = where + ": echo " + rounded(std::abs(stated.late_s), us, 3) + " us " +
                              (stated.late_s < 0.0 ? "early" : "late") + " (" + rounded(std::abs(depth_m), 1e-3, 2) +
                              " mm of depth); " + counted(arrival.traces, "trace") +
                              (arrival.traces == 1 ? ", coherence " : " agree to ") +
                              rounded(stated.coherence, 0.01, 0) + " %";
    facts.add("point", off ? "warning: " + words : words);
    if (off) {
        facts.add("", std::string(stated.late_s > 0.0 ? "add " : "take ") + rounded(std::abs(stated.late_s), us, 3) +
                          (stated.late_s > 0.0 ? " to" : " from") +
                          " timing.pulse_center_us if position and sound speed are certain");
    }
    add_turned(facts, arrival);
}

Json json_of(const std::vector<Arrival>& arrivals) {
    Json points = Json::array();
    for (const Arrival& arrival : arrivals) {
        Json others = Json::array();
        for (const Reading& other : arrival.others) {
            others.push_back(json_of(other));
        }
        points.push_back({{"position_m", {arrival.point_m.x(), arrival.point_m.y(), arrival.point_m.z()}},
                          {"traces", arrival.traces},
                          {"found", arrival.found()},
                          {"as_stated", json_of(arrival.as_stated)},
                          {"others", others}});
    }
    return points;
}

}  // namespace

Facts import_facts(const std::string& output, const ImportReport& report) {
    Facts facts(output + ": a recording of acquired data");
    add_record(facts, report);
    add_levels(facts, report.checks);
    add_elements(facts, report.checks);
    add_clipping(facts, report.checks, report.info);
    add_offset(facts, report.checks);
    add_band(facts, report.checks, report.info.probe);
    add_fit(facts, report);
    for (const Arrival& arrival : report.arrivals) {
        add_arrival(facts, arrival, report.info);
    }
    if (report.arrivals.empty()) {
        facts.add("point", "none given, so timing, sound speed and the delays' sign are not checked against an echo");
    }
    if (!report.digest.empty()) {
        facts.add("digest", report.digest, {{"content_digest", report.digest}});
    }
    facts.add_numbers({{"points", json_of(report.arrivals)}});
    return facts;
}

}  // namespace echoloom
