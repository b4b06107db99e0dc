// Delay profiles above the array, for near and far foci, steered and not.

#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/beamform/array_places.h"
#include "recon/measure/csv.h"
#include "recon/measure/plot_files.h"
#include "sim/array/delay_law.h"
#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "sim/base/atomic_file.h"
#include "sim/base/error.h"
#include "sim/base/text.h"
#include "tools/cli/output.h"
#include "tools/cli/wavefronts.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double degrees = 180.0 / std::numbers::pi;
constexpr int max_by_default = 64;

TransmitEvent aimed_rings(const Probe& probe, double focus_m, double sound_speed_m_s) {
    TransmitEvent event;
    event.kind = TransmitKind::focused;
    event.focus_m = Vec3(0.0, 0.0, focus_m);
    event.weight.assign(probe.elements.size(), 1.0);
    std::vector<Element> places = probe.elements;  // as far from the axis as all of each ring is
    for (Element& element : places) {
        element.center_m = Vec3(ring_radius_m(element), 0.0, 0.0);
    }
    event.delay_s = focusing_delays(places, event.origin_m, event.focus_m, sound_speed_m_s);
    return event;
}

/// Elements no farther than this from the image plane are those of the row nearest to it.
double middle_row_m(const Probe& probe) {
    double nearest = 1e300;
    for (const Element& element : probe.elements) {
        nearest = std::min(nearest, std::abs(element.center_m.y()));
    }
    return nearest + 1e-9;
}

std::string in_mm(double length_m) {
    return plain(std::round(length_m / mm * 100.0) / 100.0) + " mm";
}

}  // namespace

TransmitEvent aimed_event(const Probe& probe, double focus_m, double steer_rad, int elements, double sound_speed_m_s) {
    TransmitEvent event;
    if (probe.elements.front().is_ring()) {
        if (steer_rad != 0.0) {
            throw InputError({"--steer-deg"}, "rings cannot steer; leave it out, or give 0");
        }
        event = aimed_rings(probe, focus_m, sound_speed_m_s);
    } else {
        const int columns = column_count(probe);
        if (elements > columns) {
            throw InputError({"--elements"}, "is " + std::to_string(elements) + ", and the probe \"" + probe.name +
                                                 "\" has " + counted(static_cast<std::size_t>(columns), "element") +
                                                 " in a row; give at most that");
        }
        const int firing = elements > 0 ? elements : std::min(columns, max_by_default);
        event = focused_event(probe, {focus_m, firing, Window{}}, {0.0, Vec3::Zero(), direction_at(steer_rad)},
                              sound_speed_m_s);
    }
    for (std::size_t e = 0; e < probe.elements.size(); ++e) {
        if (event.weight[e] != 0.0) {
            event.receivers.push_back(static_cast<int>(e));
        }
    }
    return event;
}

std::vector<DelayProfile> delay_profiles(const Probe& probe, std::span<const double> foci_m,
                                         std::span<const double> steers_rad, int elements, double sound_speed_m_s) {
    const ElementPlaces places(probe);
    std::vector<DelayProfile> profiles;
    for (const double steer : steers_rad) {
        for (const double focus : foci_m) {
            const TransmitEvent event = aimed_event(probe, focus, steer, elements, sound_speed_m_s);
            DelayProfile profile{focus, steer, {}, {}, 0.0, 0.0};
            std::vector<double> parabola;
            for (const int element : event.receivers) {
                const auto e = static_cast<std::size_t>(element);
                const Vec3& place = places.center_m[e];
                if (std::abs(place.y()) > middle_row_m(probe)) {
                    continue;  // of rows along elevation one is enough
                }
                const double along = probe.elements[e].is_ring() ? place.x() : places.lateral_m[e];
                profile.lateral_m.push_back(along);
                profile.delay_s.push_back(event.delay_s[e]);
                // Nearer the focus by what the face bulges, later by what it is aside.
                const double ahead = place.dot(event.direction);
                const double aside = (place - ahead * event.direction).norm();
                parabola.push_back((ahead - aside * aside / (2.0 * focus)) / sound_speed_m_s);
            }
            const auto [first, last] = std::ranges::minmax(profile.delay_s);
            for (double& delay : profile.delay_s) {
                delay -= first;
            }
            profile.spread_s = last - first;
            const auto [lowest, highest] = std::ranges::minmax(parabola);
            profile.parabola_s = highest - lowest;
            profiles.push_back(std::move(profile));
        }
    }
    return profiles;
}

std::vector<std::filesystem::path> line_plot_files_of(const std::filesystem::path& png) {
    const PlotFiles files{png.parent_path(), png.stem().string()};
    return {files.file(".csv"), files.file(".gp"), files.file(".png"), files.file(".svg")};
}

void draw_delays(const Probe& probe, std::span<const DelayProfile> profiles, const std::filesystem::path& png) {
    const PlotFiles files{png.parent_path(), png.stem().string()};
    std::vector<double> steers;
    std::vector<double> foci;
    const auto index_in = [](std::vector<double>& list, double value) {
        const auto found = std::ranges::find(list, value);
        const auto index = found - list.begin();
        if (found == list.end()) {
            list.push_back(value);
        }
        return static_cast<std::size_t>(index) + 1;
    };
    std::string csv = "panel,curve,element_position_mm,delay_us\n";
    double longest_s = 0.0;
    double half_m = 0.0;
    for (const DelayProfile& profile : profiles) {
        const std::size_t panel = index_in(steers, profile.steer_rad);
        const std::size_t curve = index_in(foci, profile.focus_m);
        longest_s = std::max(longest_s, profile.spread_s);
        for (std::size_t i = 0; i < profile.lateral_m.size(); ++i) {
            half_m = std::max(half_m, std::abs(profile.lateral_m[i]));
            csv += std::to_string(panel) + ',' + std::to_string(curve) + ',' + csv_number(profile.lateral_m[i] / mm) +
                   ',' + csv_number(profile.delay_s[i] * 1e6) + '\n';
        }
    }
    write_file(files.file(".csv"), csv);
    std::vector<std::string> names;
    names.reserve(foci.size());
    for (const double focus : foci) {
        names.push_back("focus at " + in_mm(focus));
    }
    std::string titles;
    for (const double steer : steers) {
        const std::string words = steer == 0.0
                                      ? std::string("broadside")
                                      : "steered by " + plain(std::round(steer * degrees * 100.0) / 100.0) + " degrees";
        titles += (titles.empty() ? "" : ", ") + ("'" + words + "'");
    }
    const double width_mm = probe.elements.front().is_ring()
                                ? (probe.elements.front().outer_m - probe.elements.front().inner_m) / mm
                                : probe.elements.front().width_m / mm;
    write_script(files,
                 script_words(names, "Firing delays of " + probe.name + ": the deeper the focus, the flatter",
                              caution_of(true)) +
                     "panels = " + std::to_string(steers.size()) + "\narray panel_title[" +
                     std::to_string(steers.size()) + "] = [" + titles + "]\nelement_mm = " + csv_number(width_mm) +
                     "\nhalf_mm = " + csv_number(half_m / mm) +
                     "\nlongest_us = " + csv_number(std::max(longest_s * 1e6, 1e-6)) + "\n",
                 "delays.gp");
    draw(files);
}

}  // namespace echoloom
