#include "tests/beamform/synthetic.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "sim/base/random.h"

namespace echoloom::testing {
namespace {

RecordingInfo base_info(const Probe& probe, std::size_t samples, std::size_t channels) {
    RecordingInfo info;
    info.probe = probe;
    info.sampling_rate_Hz = 40e6;
    info.samples = samples;
    info.channels = channels;
    return info;
}

TransmitEvent empty_event(const Probe& probe, TransmitKind kind, int line) {
    TransmitEvent event;
    event.kind = kind;
    event.line = line;
    event.delay_s.assign(probe.elements.size(), 0.0);
    event.weight.assign(probe.elements.size(), 0.0);
    return event;
}

std::vector<int> all_elements(const Probe& probe) {
    std::vector<int> all(probe.elements.size());
    for (std::size_t i = 0; i < all.size(); ++i) {
        all[i] = static_cast<int>(i);
    }
    return all;
}

/// The run of `count` elements nearest to x, shifted inward at the array's ends.
std::vector<int> nearest_elements(const Probe& probe, double x, int count) {
    const int total = static_cast<int>(probe.elements.size());
    const double place = x / probe.pitch_m + 0.5 * (total - 1);
    const int first = std::clamp(static_cast<int>(std::lround(place - 0.5 * (count - 1))), 0, total - count);
    std::vector<int> receivers;
    for (int i = 0; i < count; ++i) {
        receivers.push_back(first + i);
    }
    return receivers;
}

/// Index of the largest value that has two neighbours.
std::size_t highest_inside(const std::vector<double>& curve) {
    return static_cast<std::size_t>(std::max_element(curve.begin() + 1, curve.end() - 1) - curve.begin());
}

}  // namespace

EventReader Synthetic::reader() const {
    return [this](std::size_t event, std::span<float> into) { std::ranges::copy(samples[event], into.begin()); };
}

Probe flat_probe(int elements, double pitch_m, double center_Hz, double bandwidth_fraction) {
    Probe probe;
    probe.center_Hz = center_Hz;
    probe.bandwidth_fraction = bandwidth_fraction;
    probe.pitch_m = pitch_m;
    for (int i = 0; i < elements; ++i) {
        Element element;
        element.center_m = Vec3((i - 0.5 * (elements - 1)) * pitch_m, 0.0, 0.0);
        element.width_m = pitch_m;
        element.height_m = 5e-3;
        probe.elements.push_back(element);
    }
    return probe;
}

Probe curved_probe(int elements, double pitch_m, double radius_m) {
    Probe probe = flat_probe(elements, pitch_m, 5e6, 0.6);
    probe.kind = "curved";
    probe.radius_m = radius_m;
    for (int i = 0; i < elements; ++i) {
        const double angle = (i - 0.5 * (elements - 1)) * pitch_m / radius_m;
        Element& element = probe.elements[static_cast<std::size_t>(i)];
        element.normal = Vec3(std::sin(angle), 0.0, std::cos(angle));
        element.center_m = Vec3(radius_m * std::sin(angle), 0.0, radius_m * (std::cos(angle) - 1.0));
    }
    return probe;
}

Probe ring_probe(int rings, double radius_m) {
    Probe probe = flat_probe(rings, 0.0, 5e6, 0.6);
    probe.kind = "annular";
    for (int i = 0; i < rings; ++i) {
        Element& ring = probe.elements[static_cast<std::size_t>(i)];
        ring.center_m = Vec3::Zero();
        ring.inner_m = radius_m * std::sqrt(static_cast<double>(i) / rings);
        ring.outer_m = radius_m * std::sqrt(static_cast<double>(i + 1) / rings);
        ring.width_m = ring.height_m = 2.0 * ring.outer_m;
    }
    return probe;
}

double gaussian_pulse(const Probe& probe, double t_s) {
    const double sigma_f = probe.bandwidth_fraction * probe.center_Hz / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
    const double sigma_t = 1.0 / (2.0 * std::numbers::pi * sigma_f);
    const double u = t_s / sigma_t;
    return std::exp(-0.5 * u * u) * std::cos(2.0 * std::numbers::pi * probe.center_Hz * t_s);
}

Synthetic line_recording(const Probe& probe, const std::vector<Vec3>& origins, const Vec3& direction, int receivers,
                         std::size_t samples) {
    Synthetic recording{base_info(probe, samples, static_cast<std::size_t>(receivers)), {}};
    for (std::size_t line = 0; line < origins.size(); ++line) {
        TransmitEvent event = empty_event(probe, TransmitKind::focused, static_cast<int>(line));
        event.origin_m = origins[line];
        event.direction = direction;
        event.receivers = nearest_elements(probe, origins[line].x(), receivers);
        recording.info.events.push_back(event);
    }
    recording.samples.assign(origins.size(), std::vector<float>(recording.info.channels * samples, 0.0F));
    return recording;
}

Synthetic full_matrix_recording(const Probe& probe, std::size_t samples) {
    Synthetic recording{base_info(probe, samples, probe.elements.size()), {}};
    for (std::size_t e = 0; e < probe.elements.size(); ++e) {
        TransmitEvent event = empty_event(probe, TransmitKind::element, static_cast<int>(e));
        event.origin_m = probe.elements[e].center_m;
        event.weight[e] = 1.0;
        event.receivers = all_elements(probe);
        recording.info.events.push_back(event);
    }
    recording.samples.assign(probe.elements.size(), std::vector<float>(recording.info.channels * samples, 0.0F));
    return recording;
}

Synthetic plane_wave_recording(const Probe& probe, const std::vector<double>& angles_rad, std::size_t samples) {
    Synthetic recording{base_info(probe, samples, probe.elements.size()), {}};
    for (std::size_t i = 0; i < angles_rad.size(); ++i) {
        TransmitEvent event = empty_event(probe, TransmitKind::plane, static_cast<int>(i));
        event.direction = Vec3(std::sin(angles_rad[i]), 0.0, std::cos(angles_rad[i]));
        event.weight.assign(probe.elements.size(), 1.0);
        event.receivers = all_elements(probe);
        recording.info.events.push_back(event);
    }
    recording.samples.assign(angles_rad.size(), std::vector<float>(recording.info.channels * samples, 0.0F));
    return recording;
}

Synthetic diverging_recording(const Probe& probe, const std::vector<Vec3>& sources, std::size_t samples) {
    Synthetic recording = plane_wave_recording(probe, std::vector<double>(sources.size(), 0.0), samples);
    for (std::size_t i = 0; i < sources.size(); ++i) {
        TransmitEvent& event = recording.info.events[i];
        event.kind = TransmitKind::diverging;
        event.focus_m = sources[i];
    }
    return recording;
}

Synthetic focused_recording(const Probe& probe, const std::vector<FocusedLine>& lines, std::size_t samples) {
    Synthetic recording{base_info(probe, samples, probe.elements.size()), {}};
    const double c = recording.info.medium.sound_speed_m_s;
    for (std::size_t line = 0; line < lines.size(); ++line) {
        const FocusedLine& transmitted = lines[line];
        TransmitEvent event = empty_event(probe, TransmitKind::focused, static_cast<int>(line));
        event.origin_m = transmitted.origin_m;
        event.direction = transmitted.direction;
        event.focus_m = transmitted.origin_m + transmitted.focus_m * transmitted.direction;
        event.receivers = all_elements(probe);
        for (std::size_t i = 0; i < probe.elements.size(); ++i) {
            const Vec3& element = probe.elements[i].center_m;
            event.delay_s[i] = (transmitted.focus_m - (event.focus_m - element).norm()) / c;
            event.weight[i] = (element - transmitted.origin_m).norm() <= transmitted.half_aperture_m ? 1.0 : 0.0;
        }
        recording.info.events.push_back(event);
    }
    recording.samples.assign(lines.size(), std::vector<float>(recording.info.channels * samples, 0.0F));
    return recording;
}

void add_focused_echo(Synthetic& recording, const Vec3& point_m) {
    const RecordingInfo& info = recording.info;
    const double c = info.medium.sound_speed_m_s;
    constexpr double finer = 8.0;  // what arrives at the point is sampled once, this much finer than the channels
    const auto whole = static_cast<double>(info.probe.elements.size());
    const double step_s = 1.0 / (finer * info.sampling_rate_Hz);
    for (std::size_t e = 0; e < info.events.size(); ++e) {
        const TransmitEvent& event = info.events[e];
        double first_s = std::numeric_limits<double>::infinity();
        double last_s = -first_s;
        for (std::size_t i = 0; i < event.weight.size(); ++i) {
            if (event.weight[i] != 0.0) {
                const double arrival = event.delay_s[i] + (point_m - info.probe.elements[i].center_m).norm() / c;
                first_s = std::min(first_s, arrival);
                last_s = std::max(last_s, arrival);
            }
        }
        const double reach_s = 6.0 * 0.374781 / (info.probe.bandwidth_fraction * info.probe.center_Hz);
        std::vector<double> wave(static_cast<std::size_t>((last_s - first_s + 2.0 * reach_s) / step_s) + 2, 0.0);
        for (std::size_t i = 0; i < event.weight.size(); ++i) {
            if (event.weight[i] == 0.0) {
                continue;
            }
            const double distance = (point_m - info.probe.elements[i].center_m).norm();
            const double start = (event.delay_s[i] + distance / c - first_s) / step_s;
            for (double n = std::ceil(start); n <= start + 2.0 * reach_s / step_s; n += 1.0) {
                if (static_cast<std::size_t>(n) < wave.size()) {
                    wave[static_cast<std::size_t>(n)] += event.weight[i] / whole * 30e-3 / distance *
                                                         gaussian_pulse(info.probe, (n - start) * step_s - reach_s);
                }
            }
        }
        for (std::size_t channel = 0; channel < info.channels; ++channel) {
            const Vec3& element = info.probe.elements[static_cast<std::size_t>(event.receivers[channel])].center_m;
            const double begin_s = first_s - reach_s + (point_m - element).norm() / c - event.start_time_s;
            for (double n = std::max(0.0, std::ceil(begin_s * info.sampling_rate_Hz));
                 n < static_cast<double>(info.samples); n += 1.0) {
                const double place = (n / info.sampling_rate_Hz - begin_s) / step_s;
                const auto at = static_cast<std::size_t>(place);
                if (at + 1 >= wave.size()) {
                    break;
                }
                recording.samples[e][channel * info.samples + static_cast<std::size_t>(n)] +=
                    static_cast<float>(std::lerp(wave[at], wave[at + 1], place - static_cast<double>(at)));
            }
        }
    }
}

void add_echo(Synthetic& recording, const Vec3& point_m, double amplitude,
              const std::function<double(const TransmitEvent&)>& transmit_path_m) {
    const RecordingInfo& info = recording.info;
    const double sigma_t = 0.374781 / (info.probe.bandwidth_fraction * info.probe.center_Hz);
    for (std::size_t e = 0; e < info.events.size(); ++e) {
        const TransmitEvent& event = info.events[e];
        for (std::size_t channel = 0; channel < info.channels; ++channel) {
            const Vec3& element = info.probe.elements[static_cast<std::size_t>(event.receivers[channel])].center_m;
            const double path = transmit_path_m(event) + (point_m - element).norm();
            const double arrival = path / info.medium.sound_speed_m_s;
            const double place = (arrival - event.start_time_s) * info.sampling_rate_Hz;
            const double reach = 9.0 * sigma_t * info.sampling_rate_Hz;
            const auto last = std::min(static_cast<double>(info.samples) - 1.0, std::floor(place + reach));
            for (double n = std::max(0.0, std::ceil(place - reach)); n <= last; n += 1.0) {
                const double t = event.start_time_s + n / info.sampling_rate_Hz;
                recording.samples[e][channel * info.samples + static_cast<std::size_t>(n)] +=
                    static_cast<float>(amplitude * gaussian_pulse(info.probe, t - arrival));
            }
        }
    }
}

double event_path_m(const Synthetic& recording, const TransmitEvent& event, const Vec3& point_m) {
    if (event.kind == TransmitKind::plane) {
        return (point_m - event.origin_m).dot(event.direction);
    }
    if (event.kind == TransmitKind::diverging) {
        return (point_m - event.focus_m).norm() - (event.origin_m - event.focus_m).norm();
    }
    return (point_m - recording.info.probe.elements[static_cast<std::size_t>(event.line)].center_m).norm();
}

double noise(std::uint64_t index) {
    return 2.0 * CounterRandom(20, 7).uniform(index) - 1.0;
}

double peak_place(const std::vector<double>& curve) {
    const std::size_t top = highest_inside(curve);
    const double left = curve[top - 1];
    const double right = curve[top + 1];
    return static_cast<double>(top) + 0.5 * (left - right) / (left - 2.0 * curve[top] + right);
}

double peak_height(const std::vector<double>& curve) {
    const std::size_t top = highest_inside(curve);
    return curve[top] + 0.25 * (curve[top + 1] - curve[top - 1]) * (peak_place(curve) - static_cast<double>(top));
}

double width_at(const std::vector<double>& curve, double fraction) {
    const auto top = static_cast<std::size_t>(std::ranges::max_element(curve) - curve.begin());
    const double level = fraction * curve[top];
    std::size_t right = top;
    while (right + 1 < curve.size() && curve[right + 1] >= level) {
        ++right;
    }
    std::size_t left = top;
    while (left > 0 && curve[left - 1] >= level) {
        --left;
    }
    if (left == 0 || right + 1 == curve.size()) {
        return std::numeric_limits<double>::quiet_NaN();
    }
    const double beyond_right = (curve[right] - level) / (curve[right] - curve[right + 1]);
    const double beyond_left = (curve[left] - level) / (curve[left] - curve[left - 1]);
    return static_cast<double>(right - left) + beyond_right + beyond_left;
}

}  // namespace echoloom::testing
