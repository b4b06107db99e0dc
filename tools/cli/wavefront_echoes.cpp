// The echo of one point in every channel, before and after the receive delays, and their sums.

#include <algorithm>
#include <cmath>

#include "phantoms/phantom.h"
#include "recon/beamform/array_places.h"
#include "recon/beamform/scan_kind.h"
#include "recon/measure/csv.h"
#include "recon/measure/gnuplot.h"
#include "recon/measure/interpolate.h"
#include "recon/measure/plot_files.h"
#include "sim/array/scan_events.h"
#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "sim/base/text.h"
#include "sim/engine/simulate.h"
#include "sim/recording/recording_reader.h"
#include "tools/cli/event_choice.h"
#include "tools/cli/output.h"
#include "tools/cli/wavefronts.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double us = 1e-6;
constexpr double samples_per_cycle = 16.0;
constexpr std::size_t max_channels_drawn = 32;
constexpr double margin_cycles = 5.0;  ///< shown before the first and after the last arrival

std::string in_mm(double length_m) {
    return plain(std::round(length_m / mm * 100.0) / 100.0);
}

std::string point_words(const Vec3& point_m) {
    return "a point at x = " + in_mm(point_m.x()) + " mm, " + in_mm(point_m.z()) + " mm deep";
}

/// How far out the front has come when it reaches a point of the event.
double transmit_path_m(const RecordingInfo& info, std::size_t event, const Vec3& point_m, double speed_m_s) {
    if (info.events[event].kind == TransmitKind::focused && info.probe.elements.front().is_ring()) {
        return (point_m - info.events[event].origin_m).dot(info.events[event].direction);
    }
    return TransmitPath(info, event, speed_m_s)(point_m);
}

/// Largest magnitude.
double peak_of(const std::vector<float>& samples) {
    double peak = 0.0;
    for (const float sample : samples) {
        peak = std::max(peak, static_cast<double>(std::abs(sample)));
    }
    return peak;
}

std::vector<float> mean_of(const std::vector<std::vector<float>>& channels) {
    std::vector<double> sum(channels.front().size(), 0.0);
    for (const auto& channel : channels) {
        for (std::size_t n = 0; n < sum.size(); ++n) {
            sum[n] += static_cast<double>(channel[n]);
        }
    }
    std::vector<float> mean;
    mean.reserve(sum.size());
    for (const double value : sum) {
        mean.push_back(static_cast<float>(value / static_cast<double>(channels.size())));
    }
    return mean;
}

/// From samples [channel, sample] of one event.
Alignment align(const RecordingInfo& info, std::size_t event_index, std::span<const float> samples, const Vec3& point_m,
                double speed_m_s) {
    const TransmitEvent& event = info.events[event_index];
    const ElementPlaces places(info.probe);
    const double transmit_m = transmit_path_m(info, event_index, point_m, speed_m_s);
    const Vec3 point_in_head = info.head ? head_pose(*info.head, event.head_angle_rad).to_head(point_m) : point_m;
    Alignment alignment;
    alignment.point_m = point_m;
    for (const int element : event.receivers) {
        const double receive_m = (point_in_head - places.center_m[static_cast<std::size_t>(element)]).norm();
        alignment.arrival_s.push_back((transmit_m + receive_m) / speed_m_s);
    }
    const auto [first, last] = std::ranges::minmax(alignment.arrival_s);
    alignment.meeting_s = first;
    const double margin_s = margin_cycles / info.probe.center_Hz;
    alignment.start_s = first - margin_s;
    // Drawn at a rate of its own, so that a coarse recording gives smooth curves.
    alignment.sampling_rate_Hz = std::max(info.sampling_rate_Hz, samples_per_cycle * info.probe.center_Hz);
    const auto count =
        static_cast<std::size_t>(std::ceil((last - first + 2.0 * margin_s) * alignment.sampling_rate_Hz));
    const std::size_t length = info.samples;
    for (std::size_t channel = 0; channel < event.receivers.size(); ++channel) {
        const std::vector<double> trace(samples.begin() + static_cast<std::ptrdiff_t>(channel * length),
                                        samples.begin() + static_cast<std::ptrdiff_t>((channel + 1) * length));
        const auto taken = [&](double later_s) {
            std::vector<float> shown;
            for (std::size_t n = 0; n < count; ++n) {
                const double time_s = alignment.start_s + static_cast<double>(n) / alignment.sampling_rate_Hz + later_s;
                const double index = (time_s - event.start_time_s) * info.sampling_rate_Hz;
                const bool recorded = index >= 0.0 && index <= static_cast<double>(length - 1);
                shown.push_back(recorded ? static_cast<float>(interpolate(trace, index)) : 0.0F);
            }
            return shown;
        };
        alignment.before.push_back(taken(0.0));
        alignment.after.push_back(taken(alignment.arrival_s[channel] - alignment.meeting_s));
    }
    alignment.sum_before = mean_of(alignment.before);
    alignment.sum_after = mean_of(alignment.after);
    double peaks = 0.0;
    for (const auto& channel : alignment.after) {
        peaks += peak_of(channel) / static_cast<double>(alignment.after.size());
    }
    if (!(peaks > 0.0)) {
        throw InputError({"--point"}, "no echo was recorded from " + point_words(point_m) + "; give another point");
    }
    alignment.sum_ratio = peak_of(alignment.sum_after) / peaks;
    alignment.scatter_ratio = peak_of(alignment.sum_before) / peaks;
    return alignment;
}

/// How far a point is from the line of an event.
double aside_m(const TransmitEvent& event, const Vec3& point_m) {
    const Vec3 offset = point_m - event.origin_m;
    return (offset - offset.dot(event.direction) * event.direction).norm();
}

}  // namespace

Alignment simulated_alignment(const Front& front, const std::optional<Vec3>& point_m) {
    const Vec3 point = point_m.value_or(
        front.focus_m > 0.0 ? front.event.focus_m : Vec3(front.event.origin_m + 40.0 * mm * front.event.direction));
    Scan scan;
    scan.name = "one event";
    scan.sampling_rate_Hz = samples_per_cycle * front.probe.center_Hz;
    scan.sound_speed_m_s = front.assumed_speed_m_s;
    scan.max_depth_m = 1.2 * (point - front.event.origin_m).norm() + 5.0 * mm;
    scan.head = front.head;
    scan.events = {front.event};
    set_sample_times(front.probe, scan);
    Phantom phantom;
    phantom.name = "one point";
    phantom.medium = front.medium;
    phantom.targets = {{point, 1.0 * mm, 0.0, 1}};
    std::vector<float> samples(scan.channels() * scan.samples);
    EngineSettings settings;
    settings.quiet = true;
    simulate(phantom, front.probe, scan, settings,
             [&](std::size_t, std::span<const float> event) { std::ranges::copy(event, samples.begin()); });
    Alignment alignment = align(planned_recording(front.probe, scan), 0, samples, point, front.assumed_speed_m_s);
    alignment.words = front.words + "; " + point_words(point);
    return alignment;
}

Alignment recorded_alignment(const std::filesystem::path& recording, const std::optional<Vec3>& point_m,
                             std::optional<long long> event) {
    RecordingReader reader(recording);
    const RecordingInfo& info = reader.info();
    if (!point_m && info.truth.points.empty()) {
        throw InputError({"--point"}, "the recording contains no true points; give one, as in --point 0,40");
    }
    const Vec3 point = point_m ? *point_m : info.truth.points[info.truth.points.size() / 2].position_m;
    const auto nearest = std::ranges::min_element(
        info.events, {}, [&](const TransmitEvent& candidate) { return aside_m(candidate, point); });
    const auto chosen = event ? event_index(*event, info.events.size(), "the recording")
                              : static_cast<std::size_t>(nearest - info.events.begin());
    std::vector<float> samples(info.channels * info.samples);
    reader.read_event(chosen, samples);
    Alignment alignment = align(info, chosen, samples, point, info.medium.sound_speed_m_s);
    alignment.simulated = !info.source.phantom.empty();
    alignment.words =
        recording.filename().string() + ", event " + std::to_string(chosen + 1) + "; " + point_words(point);
    return alignment;
}

void draw_alignment(const Alignment& alignment, const std::filesystem::path& png) {
    const PlotFiles files{png.parent_path(), png.stem().string()};
    const std::size_t channels = alignment.before.size();
    const std::size_t stride = (channels + max_channels_drawn - 1) / max_channels_drawn;
    double highest = 0.0;
    for (const auto& channel : alignment.after) {
        highest = std::max(highest, peak_of(channel));
    }
    // Channel 0 is the sum. Blank lines part the channels, so that a line ends where its channel does.
    std::string csv = "channel,time_us,before,after,arrival_us,meeting_us\n";
    const auto add = [&](std::size_t number, const std::vector<float>& before, const std::vector<float>& after,
                         const std::string& arrival) {
        for (std::size_t n = 0; n < before.size(); ++n) {
            const double time_s = alignment.start_s + static_cast<double>(n) / alignment.sampling_rate_Hz;
            csv += std::to_string(number) + ',' + csv_number(time_s / us) + ',' +
                   csv_number(static_cast<double>(before[n]) / highest) + ',' +
                   csv_number(static_cast<double>(after[n]) / highest) + ',' + arrival + '\n';
        }
        csv += '\n';
    };
    add(0, alignment.sum_before, alignment.sum_after, ",");
    for (std::size_t channel = stride / 2; channel < channels; channel += stride) {
        add(channel + 1, alignment.before[channel], alignment.after[channel],
            csv_number(alignment.arrival_s[channel] / us) + ',' + csv_number(alignment.meeting_s / us));
    }
    write_file(files.file(".csv"), csv);
    const double last_us =
        (alignment.start_s + static_cast<double>(alignment.sum_before.size() - 1) / alignment.sampling_rate_Hz) / us;
    write_script(files,
                 script_words({}, "Echoes brought into phase by the receive delays", caution_of(alignment.simulated)) +
                     "subtitle = " + gnuplot_quoted(alignment.words) + "\nchannels = " + std::to_string(channels) +
                     "\nstride = " + std::to_string(stride) + "\nfirst_us = " + csv_number(alignment.start_s / us) +
                     "\nlast_us = " + csv_number(last_us) + "\n",
                 "alignment.gp");
    draw(files);
}

}  // namespace echoloom
