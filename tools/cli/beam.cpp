#include "tools/cli/beam.h"

#include <omp.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

#include "phantoms/phantom.h"
#include "recon/image/axis.h"
#include "sim/array/face.h"
#include "sim/base/atomic_file.h"
#include "sim/base/progress.h"
#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double max_widths = 100.0;  ///< along the axis, at round depths
constexpr double max_default_depth_m = 1.0;

/// The place in the room of a point of the face.
Vec3 in_room(const std::optional<HeadMotion>& head, double angle_rad, const Vec3& point_m) {
    if (!head) {
        return point_m;
    }
    const HeadPose pose = head_pose(*head, angle_rad);
    return pose.origin_m + point_m.x() * pose.lateral + Vec3(0.0, point_m.y(), 0.0) + point_m.z() * pose.normal;
}

/// Weights of all ways together: what takes part at all.
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
        throw InputError({"--scan"}, std::to_string(scans) + " scans for " + std::to_string(probes) +
                                         " probes; give one for all of them, or one for each");
    }
    const std::size_t count = std::max(probes, scans);
    if (count > max_beams) {
        throw InputError({probes >= scans ? "--probe" : "--scan"},
                         std::to_string(count) + " beams; give at most " + std::to_string(max_beams));
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
    const auto last = static_cast<long long>(scan.events.size()) - 1;
    if (*options.event < 0 || *options.event > last) {
        throw InputError({"--event"}, "is " + std::to_string(*options.event) + "; the scan \"" + scan.name + "\" has " +
                                          std::to_string(last + 1) + " events, 0 to " + std::to_string(last));
    }
    return static_cast<std::size_t>(*options.event);
}

/// Names that tell beams apart: of probe, scan, way and listening whatever differs.
void name_apart(std::vector<Beam>& beams) {
    const auto words_of = [](const Beam& beam) {
        return std::array{beam.probe_name, beam.scan_name, way_word(beam.way), beam.listening};
    };
    std::array<bool, 4> differ{};
    for (std::size_t i = 0; i < differ.size(); ++i) {
        std::set<std::string> words;
        for (const Beam& beam : beams) {
            words.insert(words_of(beam)[i]);
        }
        words.erase("");  // a beam that is sent listens to nothing, which its way says already
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
    if (options.map) {
        refuse_existing({&*options.map, 1}, options.force, "--map");
    }
    if (options.csv) {
        refuse_existing({&*options.csv, 1}, options.force, "--csv");
    }
    const auto refuse_plot = [&](const std::optional<std::filesystem::path>& plot, const std::string& option) {
        if (!plot) {
            return;
        }
        refuse_existing(beam_plot_files(*plot), options.force, option);
    };
    refuse_plot(options.plot, "--plot");
    refuse_plot(options.pattern, "--pattern");
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
    const Vec3 aside(beam.straight.z(), 0.0, -beam.straight.x());
    return {
        .steer_rad = upright ? 0.0 : std::atan2(beam.axis.direction.dot(aside), beam.axis.direction.dot(beam.straight)),
        .pitch_m = row ? probe.pitch_m : 0.0,
        .element_m = element.is_ring() ? 0.0
                     : upright         ? element.height_m
                                       : element.width_m,
        .soft = probe.baffle == Baffle::soft,
        .aperture_m = beam.across_aperture.width_m,
        .wavelength_m = beam.field.wavelength_m(),
        // One way takes the square root of the echo's spectrum.
        .bandwidth =
            beam.view.pulsed ? probe.bandwidth_fraction * (beam.way == BeamPath::two_way ? 1.0 : std::sqrt(2.0)) : 0.0};
}

/// Whether all that takes part is focused at a distance (none: infinitely far away), so that theory knows its pattern.
bool in_focus(const Beam& beam, std::optional<double> distance_m) {
    const auto near = [](double a, double b) { return std::abs(a - b) < 0.01 * b; };
    if (beam.view.plane == BeamPlane::elevation && !beam.elements.front().is_ring()) {
        return distance_m ? near(*distance_m, beam.lens_focus_m) : beam.lens_focus_m == 0.0;
    }
    const auto focused = [&](double focus_m) { return distance_m ? near(*distance_m, focus_m) : focus_m == 0.0; };
    const bool sent = beam.way == BeamPath::receive || focused(beam.sent_focus_m);
    const bool heard = beam.way == BeamPath::transmit || (distance_m && beam.follows) || focused(beam.heard_focus_m);
    return sent && heard;
}

/// Where the pattern against angle is looked at; none: infinitely far away.
std::optional<double> pattern_distance_m(const Beam& beam) {
    if (beam.view.pattern_at_m) {
        return beam.view.pattern_at_m;
    }
    if (beam.view.plane == BeamPlane::elevation && beam.lens_focus_m > 0.0) {
        return beam.lens_focus_m;
    }
    if (beam.compared_m > 0.0) {
        return beam.compared_m;
    }
    // A pulse is far away from ten near zones on.
    return beam.view.pulsed ? std::optional(10.0 * near_zone_m(beam.across_aperture, beam.field.wavelength_m()))
                            : std::nullopt;
}

void measure_pattern(Beam& beam) {
    const bool upright = beam.view.plane == BeamPlane::elevation;
    const Vec3 straight = upright ? beam.axis.direction : beam.straight;
    const Vec3 aside = upright ? Vec3(Vec3::UnitY()) : Vec3(straight.z(), 0.0, -straight.x());
    const auto distance_m = pattern_distance_m(beam);
    beam.pattern = beam_pattern(beam.field, beam.axis.origin_m, straight, aside, beam.theory.steer_rad,
                                beam.theory.aperture_m, distance_m);
    beam.gratings = grating_lobes(*beam.pattern, beam.theory, beam.ways());
    beam.side_lobe = peak_side_lobe(*beam.pattern, beam.gratings);
    if (in_focus(beam, distance_m)) {
        beam.expected = expected_pattern(beam, *beam.pattern);
    }
    if (beam.expected) {
        beam.theory_side_lobe = peak_side_lobe(*beam.expected, beam.gratings);
    }
}

/// Width across at the focus, found and by rule: the pattern of the weights, lambda z / D times their constant.
void measure_focus(Beam& beam) {
    const double at_m = beam.view.plane == BeamPlane::elevation && !beam.elements.front().is_ring() ? beam.lens_focus_m
                                                                                                    : beam.compared_m;
    if (at_m <= 0.0) {
        return;
    }
    beam.compared_m = at_m;
    if (const auto edges = beam_edges(beam.field, beam.across_aperture, beam.axis, at_m)) {
        beam.focus_width_m = edges->width_m();
    }
    if (!in_focus(beam, at_m)) {
        return;
    }
    BeamPattern fine;
    const double reach = std::min(4.0 * beam.theory.wavelength_m / beam.theory.aperture_m, 0.7);
    for (int i = -2000; i <= 2000; ++i) {
        fine.angle_rad.push_back(beam.theory.steer_rad + reach * i / 2000.0);
    }
    fine.amplitude.resize(fine.angle_rad.size());
    const auto expected = expected_pattern(beam, fine);
    if (const auto width = expected ? pattern_width_rad(*expected) : std::nullopt) {
        beam.theory_focus_width_m = 2.0 * at_m * std::tan(0.5 * *width);
    }
}

}  // namespace

std::size_t Beam::peak() const {
    const double highest = *std::ranges::max_element(pressure);
    std::size_t last = pressure.size() - 1;
    while (pressure[last] < 0.999 * highest) {
        --last;
    }
    while (last > 0 && pressure[last - 1] > pressure[last]) {
        --last;
    }
    return last;
}

std::string way_word(BeamPath way) {
    return way == BeamPath::transmit ? "Transmit" : way == BeamPath::receive ? "Receive" : "Two-way";
}

std::string wave_words(const BeamView& view) {
    return view.pulsed ? "peaks of the pulse" : "continuous wave";
}

Beam describe_beam(const Probe& probe, const Scan& scan, std::size_t event_index, BeamPath way,
                   const std::optional<ReceiveTheory>& listening, const BeamView& view, const Medium& medium,
                   double frequency_Hz) {
    const TransmitEvent& planned = scan.events[event_index];
    const TransmitEvent event = view.unfocused ? unfocused(probe, scan.head, planned) : planned;
    const double ahead_m = (event.focus_m - event.origin_m).dot(event.direction);
    const double sent_focus_m = ahead_m > 0.0 ? ahead_m : 0.0;
    const double heard_focus_m = listening ? listening->focus_m.value_or(0.0) : 0.0;
    const double focus_m = way == BeamPath::receive ? heard_focus_m : sent_focus_m;
    const bool follows = listening && !listening->focus_m && listening->listening.follows;
    const double compared_m = focus_m > 0.0 ? focus_m
                              : follows     ? (sent_focus_m > 0.0 ? sent_focus_m : 0.5 * scan.max_depth_m)
                                            : 0.0;
    const BeamField::Setting setting{way, view.pulsed, frequency_Hz, compared_m};
    Beam beam{
        .name = probe.name,
        .probe_name = probe.name,
        .scan_name = scan.name,
        .event = event_index,
        .events = scan.events.size(),
        .way = way,
        .view = view,
        .frequency_Hz = frequency_Hz,
        .focus_m = focus_m,
        .sent_focus_m = sent_focus_m,
        .heard_focus_m = heard_focus_m,
        .listening = listening ? listening->words : std::string(),
        .follows = follows,
        .field = BeamField(probe, scan.head, event, medium, listening ? listening->listening : Reception{}, setting),
        .aperture = {},
        .across_aperture = {},
        .axis = beam_axis(event),
        .straight = probe.elements.front().is_ring() ? event.direction
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
        .expected = {},
        .gratings = {},
        .side_lobe = {},
        .theory_side_lobe = {}};
    if (way != BeamPath::receive) {
        beam.drives.push_back(drive_of(event));
        beam.aperture = beam_aperture(probe, event);
    }
    if (way != BeamPath::transmit) {
        beam.drives.push_back(listening->listening.at(compared_m > 0.0 ? compared_m : scan.max_depth_m));
        const BeamAperture heard = aperture_of(probe, event, beam.drives.back());
        beam.aperture = way == BeamPath::receive ? heard : wider(beam.aperture, heard);
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

void measure_beam(Beam& beam, double depth_m) {
    const double lambda = beam.field.wavelength_m();
    const bool diverges = beam.face_radius_m > 0.0 && beam.focus_m == 0.0;
    if (!diverges) {
        beam.near_zone_m = near_zone_m(beam.aperture, lambda);
    }
    if (beam.near_zone_m && beam.focus_m == 0.0 && !beam.follows) {
        const double deepest_m = std::max({depth_m, 2.0 * *beam.near_zone_m, 3.0 * lambda});
        beam.last_maximum_m = last_axial_maximum_m(beam.field, beam.axis, lambda, deepest_m);
    }
    if (beam.across_aperture.plain && !beam.view.pulsed) {
        beam.theory_half_angle_rad = theory_half_angle_rad(beam.across_aperture, lambda, beam.ways());
    }
    if (!beam.follows && !beam.view.pulsed) {
        beam.far_half_angle_rad = far_half_angle_rad(beam.field, beam.across_aperture, beam.axis);
    }
    measure_focus(beam);
    if (beam.view.pattern) {
        measure_pattern(beam);
    }

    const double step_m = round_step(depth_m / mm / max_widths) * mm;
    const auto widths = static_cast<std::size_t>(std::floor(depth_m / step_m * (1.0 + 1e-9)));
    std::vector<Vec3> points;
    for (std::size_t i = 1; i <= widths * edge_stride; ++i) {
        beam.depth_m.push_back(step_m * static_cast<double>(i) / edge_stride);
        points.push_back(beam.axis.point(beam.depth_m.back()));
    }
    beam.pressure = beam.field.amplitudes(points);
    beam.edges.resize(points.size());
    Progress progress("widths of " + beam.name, widths, beam.view.quiet);
    for (std::size_t i = edge_stride - 1; i < points.size(); i += edge_stride) {
        beam.edges[i] = beam_edges(beam.field, beam.across_aperture, beam.axis, beam.depth_m[i]);
        progress.advance();
    }
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

/// One beam for each way and, of those that listen, for each recipe.
void add_beams(const BeamOptions& options, const Probe& probe, const Scan& scan, const Medium& medium,
               std::vector<Beam>& beams) {
    const BeamView view = view_of(options);
    const std::size_t event = chosen_event(options, scan);
    const TransmitEvent as_sent =
        view.unfocused ? unfocused(probe, scan.head, scan.events[event]) : scan.events[event];
    const double frequency_Hz = options.MHz ? *options.MHz * 1e6 : probe.center_Hz;
    std::vector<ReceiveTheory> rules;
    for (const std::string& recipe : options.recipes) {
        rules.push_back(recipe_listening(probe, scan, as_sent, load_recipe(recipe)));
    }
    if (rules.empty()) {
        rules.push_back(own_listening(probe, scan, as_sent));
    }
    for (const std::string& word : options.ways) {
        const BeamPath way = word == "receive"   ? BeamPath::receive
                             : word == "two-way" ? BeamPath::two_way
                                                 : BeamPath::transmit;
        if (way == BeamPath::transmit) {
            beams.push_back(describe_beam(probe, scan, event, way, std::nullopt, view, medium, frequency_Hz));
            continue;
        }
        for (const ReceiveTheory& rule : rules) {
            beams.push_back(describe_beam(probe, scan, event, way, rule, view, medium, frequency_Hz));
        }
    }
}

}  // namespace

void run(const BeamOptions& options) {
    if (options.threads > 0) {
        omp_set_num_threads(options.threads);
    }
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
        throw InputError({"--way"}, std::to_string(beams.size()) +
                                        " beams, each way and recipe counted; give at most " +
                                        std::to_string(max_beams));
    }
    name_apart(beams);
    const double depth_m = options.depth_mm ? *options.depth_mm * mm : default_depth_m(beams, scanned_m);
    for (Beam& beam : beams) {
        measure_beam(beam, depth_m);
    }
    if (options.csv) {
        write_file(*options.csv, beam_csv(beams));
    }
    if (options.map) {
        draw_beam_maps(beams, options.width_mm.value_or(0.0) * mm / 2.0, *options.map);
    }
    if (options.plot) {
        draw_beam_curves(beams, *options.plot);
    }
    if (options.pattern) {
        draw_beam_patterns(beams, *options.pattern);
    }
    print(options.json ? beam_json(beams) : beam_text(beams));
    for (const auto& drawn : {options.map, options.plot, options.pattern}) {
        if (drawn) {
            note("drawn: " + drawn->string(), options.quiet);
        }
    }
}

}  // namespace echoloom
