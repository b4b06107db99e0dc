#include <algorithm>
#include <cmath>
#include <cstdio>

#include "recon/compare/comparison.h"
#include "sim/base/error.h"
#include "sim/base/text.h"

namespace echoloom {

namespace {

std::string size_text(const RecordingInfo& info) {
    return counted(info.events.size(), "event") + " of " + counted(info.channels, "channel") + " by " +
           counted(info.samples, "sample");
}

/// A setting of the recording that has changed counts as a failed check, so that the verdict includes it.
class SettingChecks {
  public:
    explicit SettingChecks(std::vector<Check>& checks) : checks_(checks) {}

    void number(const std::string& what, double before, double after) {
        if (before != after && !(std::isnan(before) && std::isnan(after))) {
            add("recording.settings", what, before, after);
        }
    }
    /// The largest of many differences, in the unit given in `what`.
    void largest(const std::string& what, double apart) {
        if (apart > 0.0) {
            add("recording.settings", what + ", largest change", 0.0, apart);
        }
    }

  private:
    void add(const std::string& name, const std::string& where, double before, double after) {
        checks_.push_back({name, where, before, after, after - before, 0.0, {}, {}, Outcome::different});
    }
    std::vector<Check>& checks_;
};

double apart(const std::vector<double>& a, const std::vector<double>& b) {
    double max_apart = a.size() == b.size() ? 0.0 : 1.0;
    for (std::size_t n = 0; n < std::min(a.size(), b.size()); ++n) {
        max_apart = std::max(max_apart, std::abs(a[n] - b[n]));
    }
    return max_apart;
}

double apart(const Vec3& a, const Vec3& b) {
    const bool none = a.hasNaN() && b.hasNaN();
    return none ? 0.0 : (a - b).norm();
}

void compare_probes(const Probe& before, const Probe& after, SettingChecks& settings) {
    settings.number("probe centre frequency (MHz)", before.center_Hz * 1e-6, after.center_Hz * 1e-6);
    settings.number("probe bandwidth (%)", before.bandwidth_fraction * 100.0, after.bandwidth_fraction * 100.0);
    settings.number("elements", static_cast<double>(before.elements.size()),
                    static_cast<double>(after.elements.size()));
    double center = 0.0, normal = 0.0, size = 0.0;
    for (std::size_t n = 0; n < std::min(before.elements.size(), after.elements.size()); ++n) {
        const Element& a = before.elements[n];
        const Element& b = after.elements[n];
        center = std::max(center, apart(a.center_m, b.center_m));
        normal = std::max(normal, apart(a.normal, b.normal));
        size = std::max({size, std::abs(a.width_m - b.width_m), std::abs(a.height_m - b.height_m),
                         std::abs(a.inner_m - b.inner_m), std::abs(a.outer_m - b.outer_m)});
    }
    settings.largest("element positions (mm)", center * 1e3);
    settings.largest("element normals", normal);
    settings.largest("element sizes (mm)", size * 1e3);
}

void compare_events(const RecordingInfo& before, const RecordingInfo& after, SettingChecks& settings) {
    double start = 0.0, delay = 0.0, weight = 0.0, direction = 0.0, place = 0.0, other = 0.0, angle = 0.0;
    for (std::size_t n = 0; n < before.events.size(); ++n) {
        const TransmitEvent& a = before.events[n];
        const TransmitEvent& b = after.events[n];
        start = std::max(start, std::abs(a.start_time_s - b.start_time_s));
        delay = std::max(delay, apart(a.delay_s, b.delay_s));
        weight = std::max(weight, apart(a.weight, b.weight));
        direction = std::max(direction, apart(a.direction, b.direction));
        place = std::max({place, apart(a.origin_m, b.origin_m), apart(a.focus_m, b.focus_m)});
        angle = std::max(angle, std::abs(a.head_angle_rad - b.head_angle_rad));
        other += a.receivers != b.receivers || a.kind != b.kind || a.line != b.line ? 1.0 : 0.0;
    }
    settings.largest("start times (us)", start * 1e6);
    settings.largest("transmit delays (us)", delay * 1e6);
    settings.largest("transmit weights", weight);
    settings.largest("transmit directions", direction);
    settings.largest("transmit origins and foci (mm)", place * 1e3);
    settings.largest("head angles (rad)", angle);
    settings.largest("events of another kind, line or receive elements (count)", other);
}

void compare_settings(const RecordingInfo& before, const RecordingInfo& after, SettingChecks& settings) {
    settings.number("sampling rate (MHz)", before.sampling_rate_Hz * 1e-6, after.sampling_rate_Hz * 1e-6);
    settings.number("sound speed (m/s)", before.medium.sound_speed_m_s, after.medium.sound_speed_m_s);
    settings.number("attenuation (dB/cm/MHz)", before.medium.attenuation_dB_cm_MHz, after.medium.attenuation_dB_cm_MHz);
    settings.number("attenuation exponent", before.medium.attenuation_exponent, after.medium.attenuation_exponent);
    settings.number("dispersive (1: yes)", before.medium.dispersive ? 1.0 : 0.0, after.medium.dispersive ? 1.0 : 0.0);
    compare_probes(before.probe, after.probe, settings);
    compare_events(before, after, settings);
}

std::string place_text(const RecordingInfo& info, std::size_t row, std::size_t sample) {
    const std::size_t event = row / info.channels;
    const double time_s = info.events[event].start_time_s + static_cast<double>(sample) / info.sampling_rate_Hz;
    char text[96];
    std::snprintf(text, sizeof text, "event %zu, channel %zu, %.3f us", event + 1, row % info.channels, time_s * 1e6);
    return text;
}

std::string bulk_text(const RecordingInfo& info, const Difference& difference) {
    char text[128];
    std::snprintf(text, sizeof text, "80 %% of the difference in events %zu to %zu, samples %zu to %zu",
                  difference.rows.from / info.channels + 1, difference.rows.to / info.channels + 1,
                  difference.samples.from, difference.samples.to);
    return text;
}

std::string as_if_text(const RecordingInfo& info, const ShiftFit& fit) {
    if (fit.explained < 0.5 || std::abs(fit.samples) > 2.0) {
        return "";
    }
    const double later_ns = fit.samples / info.sampling_rate_Hz * 1e9;
    char text[192];
    std::snprintf(text, sizeof text,
                  "as if all were %+.4f dB in level and %+.3f ns later, %.4f of a period (explains %.0f %%)",
                  20.0 * std::log10(std::max(1e-9, 1.0 + fit.gain)), later_ns,
                  std::abs(later_ns) * 1e-9 * info.probe.center_Hz, 100.0 * fit.explained);
    return text;
}

Difference sample_difference(RecordingReader& before, RecordingReader& after) {
    const RecordingInfo& info = before.info();
    DifferenceSums sums(info.events.size() * info.channels, info.samples);
    std::vector<float> old(info.channels * info.samples), fresh(old.size());
    for (std::size_t event = 0; event < info.events.size(); ++event) {
        before.read_event(event, old);
        after.read_event(event, fresh);
        for (std::size_t channel = 0; channel < info.channels; ++channel) {
            const auto row = [&](const std::vector<float>& samples) {
                return std::span(samples).subspan(channel * info.samples, info.samples);
            };
            sums.add_row(event * info.channels + channel, row(old), row(fresh));
        }
    }
    return sums.result();
}

}  // namespace

PairComparison compare_recordings(RecordingReader& before, RecordingReader& after, const Tolerances& tolerances) {
    const RecordingInfo& old = before.info();
    const RecordingInfo& fresh = after.info();
    PairComparison comparison;
    comparison.kind = "recording";
    if (old.events.size() != fresh.events.size() || old.channels != fresh.channels || old.samples != fresh.samples) {
        comparison.reason = "before, " + size_text(old) + "; after, " + size_text(fresh);
        comparison.verdict = verdict_of(comparison);
        return comparison;
    }
    const Difference difference = sample_difference(before, after);
    const std::string where = place_text(old, difference.largest_row, difference.largest_sample);
    comparison.differences.push_back(
        {"recording", difference, where, bulk_text(old, difference), as_if_text(old, difference.fit)});
    const auto limit = [&](const char* name, const std::string& place, double value) {
        comparison.checks.push_back(judge_limit(name, place, value, tolerances));
    };
    limit("recording.difference_percent", "whole recording", 100.0 * difference.relative_l2);
    limit("recording.largest_dB", where, difference.largest_dB);
    limit("recording.worst_channel_percent",
          "event " + std::to_string(difference.worst_row / old.channels + 1) + ", channel " +
              std::to_string(difference.worst_row % old.channels),
          100.0 * difference.worst_row_l2);
    SettingChecks settings(comparison.checks);
    compare_settings(old, fresh, settings);
    comparison.verdict = verdict_of(comparison);
    return comparison;
}

}  // namespace echoloom
