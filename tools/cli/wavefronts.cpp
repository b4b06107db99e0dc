#include "tools/cli/wavefronts.h"

#include <omp.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>
#include <numbers>

#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

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
        const auto last = static_cast<long long>(scan.events.size()) - 1;
        const long long chosen = options.event.value_or(static_cast<long long>(scan.events.size()) / 2);
        if (chosen < 0 || chosen > last) {
            throw InputError({"--event"}, "is " + std::to_string(chosen) + "; the scan \"" + scan.name + "\" has " +
                                              std::to_string(last + 1) + " events, 0 to " + std::to_string(last));
        }
        front.event = scan.events[static_cast<std::size_t>(chosen)];
        front.head = scan.head;
        front.assumed_speed_m_s = scan.sound_speed_m_s;
        front.words += ", " + scan.name + ", event " + std::to_string(chosen);
    } else {
        const double focus_mm = options.foci_mm.empty() ? 40.0 : options.foci_mm.front();
        const double steer_deg = options.steers_deg.empty() ? 0.0 : options.steers_deg.front();
        front.event = aimed_event(probe, focus_mm * mm, steer_deg * degree, options.elements, front.assumed_speed_m_s);
        front.words += ", " + std::to_string(front.event.receivers.size()) + " elements";
        front.words += steer_deg != 0.0 ? ", steered by " + rounded(steer_deg) + "\u00b0" : "";
    }
    const double ahead_m = (front.event.focus_m - front.event.origin_m).dot(front.event.direction);
    front.focus_m = ahead_m > 0.0 ? ahead_m : 0.0;
    front.words += front.focus_m > 0.0 ? ", focused at " + rounded(front.focus_m / mm) + " mm" : ", without a focus";
    return front;
}

void refuse_plot(const std::optional<std::filesystem::path>& plot, const std::string& option, bool force) {
    if (!plot) {
        return;
    }
    refuse_existing(line_plot_files_of(*plot), force, option);
}

void refuse_outputs(const WavefrontOptions& options) {
    if (options.sheet) {
        refuse_existing({&*options.sheet, 1}, options.force, "--panels");
    }
    if (options.animation) {
        refuse_existing({&*options.animation, 1}, options.force, "--animation");
    }
    refuse_plot(options.delays, "--delays", options.force);
    refuse_plot(options.echoes, "--echoes", options.force);
}

std::string front_text(const Front& front, const FrontFigures& figures) {
    std::string text = "The front of " + front.words + "\n\n  instants drawn (us):";
    for (const double instant : figures.instants_s) {
        text += ' ' + fixed(instant / us, 2);
    }
    text += '\n';
    if (figures.arrival_s) {
        const double expected = front.focus_m / front.medium.sound_speed_m_s;
        text += "  highest at the focus after (us)        " + fixed(*figures.arrival_s / us, 3) +
                "   focus / c = " + fixed(expected / us, 3) + ", ratio " + fixed(*figures.arrival_s / expected, 4) +
                "\n  there, times one element's average    " + fixed(*figures.gain, 2) +
                "   all in step = " + fixed(figures.share, 2) + ", ratio " + fixed(*figures.gain / figures.share, 4) +
                '\n';
        if (std::isfinite(front.probe.elevation_focus_m) || front.probe.elements.front().height_m > 3.0 * mm) {
            text += "  (The face's height and lens stretch and advance the pulse: up to some tens of ns.)\n";
        }
    }
    return text + '\n';
}

std::string delays_text(const Probe& probe, std::span<const DelayProfile> profiles) {
    std::string text =
        "Firing delays, greatest less least; parabola: x sin(angle) - x^2 cos^2(angle) / (2 R), over c (the law by\n"
        "exact distances: von Ramm & Smith, IEEE Trans. BME 30, 438, 1983, from memory)\n\n"
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

std::string echoes_text(const Alignment& alignment) {
    return "Echoes of one point, " + alignment.words + "\n\n  channels                                          " +
           std::to_string(alignment.arrival_s.size()) + "\n  peak of their mean / mean of their peaks, before  " +
           fixed(alignment.scatter_ratio, 3) + "\n  the same, after the delays                        " +
           fixed(alignment.sum_ratio, 3) + "   all in step = 1\n\n";
}

std::optional<Vec3> point_of(const WavefrontOptions& options) {
    if (!options.point_mm) {
        return std::nullopt;
    }
    return Vec3(options.point_mm->first * mm, 0.0, options.point_mm->second * mm);
}

std::vector<double> scaled(const std::vector<double>& values, double factor, const std::vector<double>& otherwise) {
    std::vector<double> result = values.empty() ? otherwise : values;
    for (double& value : result) {
        value *= factor;
    }
    return result;
}

}  // namespace

void run(const WavefrontOptions& options) {
    if (options.threads > 0) {
        omp_set_num_threads(options.threads);
    }
    refuse_outputs(options);
    std::string text;
    if (options.probe) {
        const Probe probe = load_probe(*options.probe, options.probe_settings);
        const Front front = front_of(options, probe);
        FrontView view;
        view.depth_m = options.depth_mm.value_or(0.0) * mm;
        view.width_m = options.width_mm.value_or(0.0) * mm;
        view.frames = options.frames;
        view.quiet = options.quiet;
        view.instants_s = scaled(options.instants_us, us, {});
        if (options.sheet || options.animation) {
            text += front_text(front, draw_front(front, view, options.sheet, options.animation));
        }
        if (options.delays) {
            const bool rings = probe.elements.front().is_ring();
            const auto profiles =
                delay_profiles(probe, scaled(options.foci_mm, mm, {20.0, 80.0}),
                               scaled(options.steers_deg, degree, rings ? std::vector{0.0} : std::vector{0.0, 20.0}),
                               options.elements, front.assumed_speed_m_s);
            draw_delays(probe, profiles, *options.delays);
            text += delays_text(probe, profiles);
        }
        if (options.echoes && !options.recording) {
            const Alignment alignment = simulated_alignment(front, point_of(options));
            draw_alignment(alignment, *options.echoes);
            text += echoes_text(alignment);
        }
    }
    if (options.recording) {
        const Alignment alignment = recorded_alignment(*options.recording, point_of(options), options.event);
        draw_alignment(alignment, *options.echoes);
        text += echoes_text(alignment);
    }
    print(text + std::string(caution_words()) + '\n');
    for (const auto& drawn : {options.sheet, options.animation, options.delays, options.echoes}) {
        if (drawn) {
            note("drawn: " + drawn->string(), options.quiet);
        }
    }
}

}  // namespace echoloom
