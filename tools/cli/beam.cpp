#include "tools/cli/beam.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "phantoms/phantom.h"
#include "sim/array/face.h"
#include "sim/base/atomic_file.h"
#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/event_choice.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double max_default_depth_m = 1.0;

/// The place in the room of a point of the face.
Vec3 in_room(const std::optional<HeadMotion>& head, double angle_rad, const Vec3& point_m) {
    if (!head) {
        return point_m;
    }
    const HeadPose pose = head_pose(*head, angle_rad);
    return pose.origin_m + point_m.x() * pose.lateral + Vec3(0.0, point_m.y(), 0.0) + point_m.z() * pose.normal;
}

/// Weights of transmit and receive together: what takes part at all.
std::vector<double> taking_part(const Beam& beam) {
    std::vector<double> weight(beam.elements.size(), 0.0);
    for (const ElementDrive& drive : beam.drives) {
        for (std::size_t e = 0; e < weight.size(); ++e) {
            weight[e] += std::abs(drive.weight[e]);
        }
    }
    return weight;
}

std::vector<Vec3> face_line(const Beam& beam, const std::optional<HeadMotion>& head, double angle_rad) {
    const std::vector<double> weight = taking_part(beam);
    const bool upright = beam.view.plane == BeamPlane::elevation;
    std::vector<Vec3> line;
    double reach = 0.0;
    for (std::size_t e = 0; e < beam.elements.size(); ++e) {
        const Element& element = beam.elements[e];
        if (weight[e] == 0.0) {
            continue;
        }
        if (element.is_ring() || upright) {
            reach = std::max(
                reach, element.is_ring() ? element.outer_m : std::abs(element.center_m.y()) + 0.5 * element.height_m);
            continue;
        }
        const Vec3 half = 0.5 * element.width_m * Vec3(element.normal.z(), 0.0, -element.normal.x());
        const Vec3 middle(element.center_m.x(), 0.0, element.center_m.z());
        line.push_back(in_room(head, angle_rad, middle - half));
        line.push_back(in_room(head, angle_rad, middle + half));
    }
    if (reach > 0.0) {
        for (const double side : {-reach, reach}) {
            line.push_back(upright ? beam.axis.point(0.0, side) : in_room(head, angle_rad, Vec3(side, 0.0, 0.0)));
        }
    }
    return line;
}

/// The pairs of probe and scan that were asked for.
std::vector<std::pair<std::string, std::string>> pair_up(const BeamOptions& options) {
    const std::size_t probes = options.probes.size();
    const std::size_t scans = options.scans.size();
    if (probes != scans && probes != 1 && scans != 1) {
        throw InputError({"--scan"}, counted(scans, "scan") + " for " + counted(probes, "probe") +
                                         "; give one for all of them, or one for each");
    }
    const std::size_t count = std::max(probes, scans);
    if (count > max_beams) {
        throw InputError({probes >= scans ? "--probe" : "--scan"},
                         counted(count, "beam") + "; give at most " + std::to_string(max_beams));
    }
    std::vector<std::pair<std::string, std::string>> pairs;
    for (std::size_t i = 0; i < count; ++i) {
        pairs.emplace_back(options.probes[probes == 1 ? 0 : i], options.scans[scans == 1 ? 0 : i]);
    }
    return pairs;
}

std::size_t chosen_event(const BeamOptions& options, const Scan& scan) {
    if (!options.event) {
        return scan.events.size() / 2;
    }
    return event_index(*options.event, scan.events.size(), "the scan \"" + scan.name + "\"");
}

/// Names that tell beams apart: of probe, scan, path and receive whatever differs.
void name_apart(std::vector<Beam>& beams) {
    const auto words_of = [](const Beam& beam) {
        return std::array{beam.probe_name, beam.scan_name, path_title(beam.path), beam.receive};
    };
    std::array<bool, 4> differ{};
    for (std::size_t i = 0; i < differ.size(); ++i) {
        std::set<std::string> words;
        for (const Beam& beam : beams) {
            words.insert(words_of(beam)[i]);
        }
        words.erase("");  // a transmit beam has no receive, which its path shows already
        differ[i] = words.size() > 1;
    }
    for (Beam& beam : beams) {
        std::string name;
        for (std::size_t i = 0; i < differ.size(); ++i) {
            const std::string word = words_of(beam)[i];
            if (differ[i] && !word.empty()) {
                name += (name.empty() ? "" : ", ") + word;
            }
        }
        beam.name = name.empty() ? beam.probe_name : name;
    }
}

/// As deep as the scans look; of beams without a focus, past the end of every near zone.
double default_depth_m(std::span<const Beam> beams, double scanned_m) {
    double depth_m = scanned_m;
    for (const Beam& beam : beams) {
        if (beam.view.unfocused && beam.aperture.plain) {
            const double past_m = 1.6 * near_zone_m(beam.aperture, beam.field.wavelength_m());
            depth_m = std::max(depth_m, std::ceil(past_m / (10.0 * mm)) * 10.0 * mm);
        }
    }
    return std::min(depth_m, std::max(scanned_m, max_default_depth_m));
}

void refuse_outputs(const BeamOptions& options) {
    PlannedFiles planned(options.force);
    planned.add(options.map, "--map");
    planned.add(options.csv, "--csv");
    for (const auto& [plot, option] : {std::pair{options.plot, "--plot"}, {options.pattern, "--pattern"}}) {
        if (plot) {
            planned.add(beam_plot_files(*plot), option);
        }
    }
}

BeamAperture wider(const BeamAperture& a, const BeamAperture& b) {
    BeamAperture both = a.width_m >= b.width_m ? a : b;
    both.plain = a.plain && b.plain && std::abs(a.width_m - b.width_m) < 1e-9;
    both.growth_per_m = std::max(a.growth_per_m, b.growth_per_m);
    return both;
}

BeamAperture aperture_of(const Probe& probe, TransmitEvent event, const ElementDrive& drive) {
    event.weight = drive.weight;
    event.delay_s = drive.delay_s;
    return beam_aperture(probe, event);
}

/// What takes part, seen along elevation.
BeamAperture elevation_aperture(const Beam& beam) {
    BeamAperture aperture = beam.aperture;
    if (beam.elements.front().is_ring()) {
        return aperture;
    }
    const std::vector<double> weight = taking_part(beam);
    double reach = 0.0;
    for (std::size_t e = 0; e < beam.elements.size(); ++e) {
        if (weight[e] != 0.0) {
            reach = std::max(reach, std::abs(beam.elements[e].center_m.y()) + 0.5 * beam.elements[e].height_m);
        }
    }
    aperture.width_m = 2.0 * reach;
    aperture.growth_per_m = beam.lens_focus_m > 0.0 ? 1.0 / beam.lens_focus_m : 0.0;
    aperture.plain = beam.aperture.plain && beam.lens_focus_m == 0.0;
    return aperture;
}

ArrayTheory theory_of(const Probe& probe, const Beam& beam) {
    const Element& element = probe.elements.front();
    const bool upright = beam.view.plane == BeamPlane::elevation;
    const bool row = !element.is_ring() && probe.radius_m == 0.0 && !upright;
    const Vec3 aside(beam.broadside.z(), 0.0, -beam.broadside.x());
    return {.steer_rad =
                upright ? 0.0 : std::atan2(beam.axis.direction.dot(aside), beam.axis.direction.dot(beam.broadside)),
            .pitch_m = row ? probe.pitch_m : 0.0,
            .element_m = element.is_ring() ? 0.0
                         : upright         ? element.height_m
                                           : element.width_m,
            .soft = probe.baffle == Baffle::soft,
            .aperture_m = beam.across_aperture.width_m,
            .wavelength_m = beam.field.wavelength_m(),
            // One way has the square root of the echo's spectrum.
            .bandwidth = beam.view.pulsed
                             ? probe.bandwidth_fraction * (beam.path == BeamPath::two_way ? 1.0 : std::sqrt(2.0))
                             : 0.0};
}

}  // namespace

std::string path_title(BeamPath path) {
    return path == BeamPath::transmit ? "Transmit" : path == BeamPath::receive ? "Receive" : "Two-way";
}

std::string path_name(BeamPath path) {
    return path == BeamPath::transmit ? "transmit" : path == BeamPath::receive ? "receive" : "two-way";
}

std::string pressure_unit(std::span<const Beam> beams) {
    const auto two_way = [](const Beam& beam) { return beam.path == BeamPath::two_way; };
    return std::ranges::all_of(beams, two_way)    ? "(rho c v)^2"
           : std::ranges::none_of(beams, two_way) ? "rho c v"
                                                  : "rho c v; two-way (rho c v)^2";
}

std::string pressure_column(const Beam& beam) {
    return std::string("axis_pressure_rho_c_v") + (beam.path == BeamPath::two_way ? "_squared" : "");
}

std::string wave_words(const BeamView& view) {
    return view.pulsed ? "peaks of the pulse" : "continuous wave";
}

Beam describe_beam(const Probe& probe, const Scan& scan, std::size_t event_index, BeamPath path,
                   const std::optional<ReceiveTheory>& receive, const BeamView& view, const Medium& medium,
                   double frequency_Hz) {
    const TransmitEvent& planned = scan.events[event_index];
    const TransmitEvent event = view.unfocused ? unfocused(probe, scan.head, planned) : planned;
    const double ahead_m = (event.focus_m - event.origin_m).dot(event.direction);
    const double transmit_focus_m = ahead_m > 0.0 ? ahead_m : 0.0;
    const double receive_focus_m = receive ? receive->focus_m.value_or(0.0) : 0.0;
    const double focus_m = path == BeamPath::receive ? receive_focus_m : transmit_focus_m;
    const bool follows = receive && !receive->focus_m && receive->reception.follows;
    const double compared_m = focus_m > 0.0 ? focus_m
                              : follows     ? (transmit_focus_m > 0.0 ? transmit_focus_m : 0.5 * scan.max_depth_m)
                                            : 0.0;
    const BeamField::Setting setting{path, view.pulsed, frequency_Hz, compared_m};
    Beam beam{.name = probe.name,
              .probe_name = probe.name,
              .scan_name = scan.name,
              .event = event_index,
              .events = scan.events.size(),
              .path = path,
              .view = view,
              .frequency_Hz = frequency_Hz,
              .focus_m = focus_m,
              .transmit_focus_m = transmit_focus_m,
              .receive_focus_m = receive_focus_m,
              .receive = receive ? receive->words : std::string(),
              .follows = follows,
              .field = BeamField(probe, scan.head, event, medium, receive ? receive->reception : Reception{}, setting),
              .aperture = {},
              .across_aperture = {},
              .axis = beam_axis(event),
              .broadside = probe.elements.front().is_ring()
                               ? event.direction
                               : face_place(probe, face_lateral_m(probe, event.origin_m)).normal,
              .face = {},
              .shape = face_shape(probe, event),
              .face_radius_m = probe.radius_m,
              .lens_focus_m = std::isfinite(probe.elevation_focus_m) ? probe.elevation_focus_m : 0.0,
              .theory = {},
              .drives = {},
              .elements = probe.elements,
              .near_zone_m = {},
              .last_maximum_m = {},
              .theory_half_angle_rad = {},
              .far_half_angle_rad = {},
              .focus_width_m = {},
              .theory_focus_width_m = {},
              .compared_m = compared_m,
              .depth_m = {},
              .pressure = {},
              .edges = {},
              .pattern = {},
              .theory_pattern = {},
              .gratings = {},
              .side_lobe = {},
              .theory_side_lobe = {}};
    if (path != BeamPath::receive) {
        beam.drives.push_back(drive_of(event));
        beam.aperture = beam_aperture(probe, event);
    }
    if (path != BeamPath::transmit) {
        beam.drives.push_back(receive->reception.at(compared_m > 0.0 ? compared_m : scan.max_depth_m));
        const BeamAperture receiving = aperture_of(probe, event, beam.drives.back());
        beam.aperture = path == BeamPath::receive ? receiving : wider(beam.aperture, receiving);
    }
    if (view.plane == BeamPlane::elevation) {
        beam.axis.across = Vec3::UnitY();
        beam.across_aperture = elevation_aperture(beam);
    } else {
        beam.across_aperture = beam.aperture;
    }
    beam.face = face_line(beam, scan.head, event.head_angle_rad);
    beam.theory = theory_of(probe, beam);
    return beam;
}

namespace {

BeamView view_of(const BeamOptions& options) {
    const auto metres = [](std::optional<double> millimetres) {
        return millimetres ? std::optional(*millimetres * mm) : std::nullopt;
    };
    return {.plane = options.plane == "elevation" ? BeamPlane::elevation
                     : options.plane == "depth"   ? BeamPlane::depth
                                                  : BeamPlane::scan,
            .unfocused = options.unfocused,
            .pulsed = options.pulsed,
            .pattern = options.pattern.has_value(),
            .quiet = options.quiet,
            .at_m = metres(options.at_mm),
            .pattern_at_m = metres(options.pattern_at_mm)};
}

/// One beam for each path and, of those that receive, for each recipe.
void add_beams(const BeamOptions& options, const Probe& probe, const Scan& scan, const Medium& medium,
               std::vector<Beam>& beams) {
    const BeamView view = view_of(options);
    const std::size_t event = chosen_event(options, scan);
    const TransmitEvent shown = view.unfocused ? unfocused(probe, scan.head, scan.events[event]) : scan.events[event];
    const double frequency_Hz = options.frequency_MHz ? *options.frequency_MHz * 1e6 : probe.center_Hz;
    std::vector<ReceiveTheory> receives;
    for (const std::string& recipe : options.recipes) {
        receives.push_back(recipe_receive(probe, scan, shown, load_recipe(recipe, options.recipe_settings)));
    }
    if (receives.empty()) {
        receives.push_back(own_receive(probe, scan, shown));
    }
    for (const std::string& word : options.paths) {
        const BeamPath path = word == "receive"   ? BeamPath::receive
                              : word == "two-way" ? BeamPath::two_way
                                                  : BeamPath::transmit;
        if (path == BeamPath::transmit) {
            beams.push_back(describe_beam(probe, scan, event, path, std::nullopt, view, medium, frequency_Hz));
            continue;
        }
        for (const ReceiveTheory& receive : receives) {
            beams.push_back(describe_beam(probe, scan, event, path, receive, view, medium, frequency_Hz));
        }
    }
}

/// What is written beside the report.
std::vector<std::filesystem::path> write_files(const BeamOptions& options, std::span<const Beam> beams) {
    std::vector<std::filesystem::path> written;
    if (options.csv) {
        write_file(*options.csv, beam_csv(beams));
        written.push_back(*options.csv);
    }
    if (options.map) {
        draw_beam_maps(beams, options.width_mm.value_or(0.0) * mm / 2.0, *options.map);
        written.push_back(*options.map);
    }
    if (options.plot) {
        draw_beam_curves(beams, *options.plot);
        written.push_back(*options.plot);
    }
    if (options.pattern) {
        draw_beam_patterns(beams, *options.pattern);
        written.push_back(*options.pattern);
    }
    return written;
}

}  // namespace

void run(const BeamOptions& options) {
    const auto pairs = pair_up(options);
    refuse_outputs(options);
    const Medium medium = options.phantom ? load_phantom(*options.phantom, options.phantom_settings).medium : Medium{};
    std::vector<Beam> beams;
    double scanned_m = 0.0;
    for (const auto& [probe_name, scan_name] : pairs) {
        const Probe probe = load_probe(probe_name, options.probe_settings);
        const Scan scan = load_scan(scan_name, probe, options.scan_settings);
        add_beams(options, probe, scan, medium, beams);
        scanned_m = std::max(scanned_m, scan.max_depth_m);
    }
    if (beams.size() > max_beams) {
        throw InputError({"--path"}, counted(beams.size(), "beam") + ", each path and recipe counted; give at most " +
                                         std::to_string(max_beams));
    }
    name_apart(beams);
    const double depth_m = options.depth_mm ? *options.depth_mm * mm : default_depth_m(beams, scanned_m);
    for (Beam& beam : beams) {
        measure_beam(beam, depth_m);
    }
    const std::vector<std::filesystem::path> written = write_files(options, beams);
    print(options.json ? with_written(beam_json(beams), written) : beam_text(beams));
    note_written(written, options.quiet);
}

}  // namespace echoloom
