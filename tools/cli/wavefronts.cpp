#include "tools/cli/wavefronts.h"

#include <array>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <numbers>

#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/event_choice.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

using Json = nlohmann::ordered_json;

constexpr double mm = 1e-3;
constexpr double us = 1e-6;
constexpr double degree = std::numbers::pi / 180.0;

std::string fixed(double value, int decimals) {
    std::array<char, 64> buffer{};
    std::snprintf(buffer.data(), buffer.size(), "%.*f", decimals, value);
    return buffer.data();
}

std::string rounded(double value) {
    return plain(std::round(value * 100.0) / 100.0);
}

Front front_of(const WavefrontOptions& options, const Probe& probe) {
    Front front{probe, std::nullopt, {}, Medium{}, 1540.0, 0.0, probe.name};
    if (options.scan) {
        const Scan scan = load_scan(*options.scan, probe, options.scan_settings);
        const std::size_t chosen =
            options.event ? event_index(*options.event, scan.events.size(), "the scan \"" + scan.name + "\"")
                          : scan.events.size() / 2;
        front.event = scan.events[chosen];
        front.head = scan.head;
        front.assumed_speed_m_s = scan.sound_speed_m_s;
        front.words += ", " + scan.name + ", event " + std::to_string(chosen + 1);
    } else {
        const double focus_mm = options.foci_mm.empty() ? 40.0 : options.foci_mm.front();
        const double steer_deg = options.steers_deg.empty() ? 0.0 : options.steers_deg.front();
        front.event = aimed_event(probe, focus_mm * mm, steer_deg * degree, options.elements, front.assumed_speed_m_s);
        front.words += ", " + counted(front.event.receivers.size(), "element");
        front.words += steer_deg != 0.0 ? ", steered by " + rounded(steer_deg) + "\u00b0" : "";
    }
    const double ahead_m = (front.event.focus_m - front.event.origin_m).dot(front.event.direction);
    front.focus_m = ahead_m > 0.0 ? ahead_m : 0.0;
    front.words += front.focus_m > 0.0 ? ", focused at " + rounded(front.focus_m / mm) + " mm" : ", without a focus";
    return front;
}

void refuse_outputs(const WavefrontOptions& options) {
    PlannedFiles planned(options.force);
    planned.add(options.panels, "--panels");
    planned.add(options.animation, "--animation");
    for (const auto& [plot, option] : {std::pair{options.delays, "--delays"}, {options.echoes, "--echoes"}}) {
        if (plot) {
            planned.add(line_plot_files_of(*plot), option);
        }
    }
}

/// When the front would arrive at the focus.
double focus_time_s(const Front& front) {
    return front.focus_m / front.medium.sound_speed_m_s;
}

std::string front_text(const Front& front, const FrontFigures& figures) {
    std::string text = "Wavefront of " + front.words + "\n\n  instants drawn (us):";
    for (const double instant : figures.instants_s) {
        text += ' ' + fixed(instant / us, 2);
    }
    text += '\n';
    if (figures.arrival_s) {
        const double theory_s = focus_time_s(front);
        text += "  peak at the focus after (us)           " + fixed(*figures.arrival_s / us, 3) +
                "   theory, focus / c: " + fixed(theory_s / us, 3) + ", ratio " +
                fixed(*figures.arrival_s / theory_s, 4) + "\n  there, times one element's average     " +
                fixed(*figures.gain, 2) + "   theory, all in phase: " + fixed(figures.share, 2) + ", ratio " +
                fixed(*figures.gain / figures.share, 4) + '\n';
        if (std::isfinite(front.probe.elevation_focus_m) || front.probe.elements.front().height_m > 3.0 * mm) {
            text += "  (The face's height and lens stretch and advance the pulse: up to some tens of ns.)\n";
        }
    }
    return text + '\n';
}

Json front_json(const Front& front, const FrontFigures& figures) {
    Json numbers = {{"description", front.words}, {"elements", figures.firing}, {"instants_s", figures.instants_s}};
    if (figures.arrival_s) {
        numbers.update({{"focus_arrival_s", *figures.arrival_s},
                        {"focus_arrival_theory_s", focus_time_s(front)},
                        {"focus_gain", *figures.gain},
                        {"focus_gain_theory", figures.share}});
    }
    return numbers;
}

std::string delays_text(const Probe& probe, std::span<const DelayProfile> profiles) {
    std::string text =
        "Firing delays, from the first element to the last; parabola: x sin(angle) - x^2 cos^2(angle) / (2 R), over c\n"
        "(the law by exact distances: von Ramm & Smith, IEEE Trans. BME 30, 438, 1983, from memory)\n\n"
        "  focus (mm)  steering (deg)   delays (us)  periods  parabola (us)   ratio\n";
    for (const DelayProfile& profile : profiles) {
        std::array<char, 160> line{};
        std::snprintf(line.data(), line.size(), "  %10s  %14s  %12.4f  %7.2f  %13.4f  %6.4f\n",
                      rounded(profile.focus_m / mm).c_str(), rounded(profile.steer_rad / degree).c_str(),
                      profile.spread_s / us, profile.spread_s * probe.center_Hz, profile.parabola_s / us,
                      profile.spread_s / profile.parabola_s);
        text += line.data();
    }
    return text + '\n';
}

Json delays_json(std::span<const DelayProfile> profiles) {
    Json list = Json::array();
    for (const DelayProfile& profile : profiles) {
        list.push_back({{"focus_mm", profile.focus_m / mm},
                        {"steer_deg", profile.steer_rad / degree},
                        {"delay_range_s", profile.spread_s},
                        {"parabola_range_s", profile.parabola_s},
                        {"element_position_m", profile.lateral_m},
                        {"delay_s", profile.delay_s}});
    }
    return list;
}

std::string echoes_text(const Alignment& alignment) {
    return "Echoes of one point, " + alignment.words + "\n\n  channels                                          " +
           std::to_string(alignment.arrival_s.size()) + "\n  peak of their mean / mean of their peaks, before  " +
           fixed(alignment.scatter_ratio, 3) + "\n  the same, after the delays                        " +
           fixed(alignment.sum_ratio, 3) + "   theory, all in phase: 1\n\n";
}

Json echoes_json(const Alignment& alignment) {
    return {{"description", alignment.words},
            {"simulated", alignment.simulated},
            {"channels", alignment.arrival_s.size()},
            {"coherence_before", alignment.scatter_ratio},
            {"coherence_after", alignment.sum_ratio}};
}

std::vector<double> scaled(const std::vector<double>& values, double factor, const std::vector<double>& otherwise) {
    std::vector<double> result = values.empty() ? otherwise : values;
    for (double& value : result) {
        value *= factor;
    }
    return result;
}

FrontView view_of(const WavefrontOptions& options) {
    FrontView view;
    view.depth_m = options.depth_mm.value_or(0.0) * mm;
    view.width_m = options.width_mm.value_or(0.0) * mm;
    view.frames = options.frames;
    view.quiet = options.quiet;
    view.instants_s = scaled(options.instants_us, us, {});
    return view;
}

/// The figures of all that was asked for.
struct Report {
    std::string text;
    Json json = {{"format", "echoloom wavefronts"}, {"format_version", 1}};
    bool simulated = true;

    void add(const Front& front, const FrontFigures& figures) {
        text += front_text(front, figures);
        json["front"] = front_json(front, figures);
    }
    void add(const Probe& probe, std::span<const DelayProfile> profiles) {
        text += delays_text(probe, profiles);
        json["delays"] = delays_json(profiles);
    }
    void add(const Alignment& alignment) {
        text += echoes_text(alignment);
        json["echoes"] = echoes_json(alignment);
        simulated = alignment.simulated;
    }
};

void draw_of_probe(const WavefrontOptions& options, Report& report) {
    const Probe probe = load_probe(*options.probe, options.probe_settings);
    const Front front = front_of(options, probe);
    if (options.panels || options.animation) {
        report.add(front, draw_front(front, view_of(options), options.panels, options.animation));
    }
    if (options.delays) {
        const bool rings = probe.elements.front().is_ring();
        const auto profiles =
            delay_profiles(probe, scaled(options.foci_mm, mm, {20.0, 80.0}),
                           scaled(options.steers_deg, degree, rings ? std::vector{0.0} : std::vector{0.0, 20.0}),
                           options.elements, front.assumed_speed_m_s);
        draw_delays(probe, profiles, *options.delays);
        report.add(probe, profiles);
    }
    if (options.echoes && !options.recording) {
        const Alignment alignment = simulated_alignment(front, options.point_m);
        draw_alignment(alignment, *options.echoes);
        report.add(alignment);
    }
}

}  // namespace

void run(const WavefrontOptions& options) {
    refuse_outputs(options);
    Report report;
    if (options.probe) {
        draw_of_probe(options, report);
    }
    if (options.recording) {
        const Alignment alignment = recorded_alignment(*options.recording, options.point_m, options.event);
        draw_alignment(alignment, *options.echoes);
        report.add(alignment);
    }
    std::vector<std::filesystem::path> written;
    for (const auto& drawn : {options.panels, options.animation, options.delays, options.echoes}) {
        if (drawn) {
            written.push_back(*drawn);
        }
    }
    // Beside acquired echoes there may be simulated pictures.
    const std::string caution = caution_of(report.simulated || options.panels || options.animation || options.delays);
    report.json["caution"] = caution;
    print(options.json ? with_written(report.json.dump(), written) : report.text + caution + '\n');
    note_written(written, options.quiet);
}

}  // namespace echoloom
