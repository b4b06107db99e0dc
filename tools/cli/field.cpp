#include "tools/cli/field.h"

#include <omp.h>

#include <algorithm>
#include <cmath>

#include "phantoms/phantom.h"
#include "recon/image/axis.h"
#include "sim/base/atomic_file.h"
#include "sim/base/text.h"
#include "tools/cli/commands.h"
#include "tools/cli/output.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double most_widths = 100.0;  ///< along the axis, at round depths
constexpr double most_default_depth_m = 1.0;

/// The place in the room of a point of the face.
Vec3 in_room(const std::optional<HeadMotion>& head, double angle_rad, const Vec3& point_m) {
    if (!head) {
        return point_m;
    }
    const HeadPose pose = head_pose(*head, angle_rad);
    return pose.origin_m + point_m.x() * pose.lateral + Vec3(0.0, point_m.y(), 0.0) + point_m.z() * pose.normal;
}

std::vector<Vec3> sending_face(const Probe& probe, const Scan& scan, const TransmitEvent& event) {
    std::vector<Vec3> line;
    const auto add = [&](const Vec3& point) { line.push_back(in_room(scan.head, event.head_angle_rad, point)); };
    double reach = 0.0;
    for (std::size_t e = 0; e < probe.elements.size(); ++e) {
        const Element& element = probe.elements[e];
        if (event.weight[e] == 0.0) {
            continue;
        }
        if (element.is_ring()) {
            reach = std::max(reach, element.outer_m);
            continue;
        }
        const Vec3 half = 0.5 * element.width_m * Vec3(element.normal.z(), 0.0, -element.normal.x());
        add(Vec3(element.center_m.x(), 0.0, element.center_m.z()) - half);
        add(Vec3(element.center_m.x(), 0.0, element.center_m.z()) + half);
    }
    if (reach > 0.0) {
        add(Vec3(-reach, 0.0, 0.0));
        add(Vec3(reach, 0.0, 0.0));
    }
    return line;
}

/// The pairs of probe and scan that were asked for.
std::vector<std::pair<std::string, std::string>> pair_up(const FieldOptions& options) {
    const std::size_t probes = options.probes.size();
    const std::size_t scans = options.scans.size();
    if (probes != scans && probes != 1 && scans != 1) {
        throw InputError({"--scan"}, std::to_string(scans) + " scans for " + std::to_string(probes) +
                                         " probes; give one for all of them, or one for each");
    }
    const std::size_t count = std::max(probes, scans);
    if (count > most_beams) {
        throw InputError({probes >= scans ? "--probe" : "--scan"},
                         std::to_string(count) + " beams; give at most " + std::to_string(most_beams));
    }
    std::vector<std::pair<std::string, std::string>> pairs;
    for (std::size_t i = 0; i < count; ++i) {
        pairs.emplace_back(options.probes[probes == 1 ? 0 : i], options.scans[scans == 1 ? 0 : i]);
    }
    return pairs;
}

std::size_t chosen_event(const FieldOptions& options, const Scan& scan) {
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

/// Names that tell beams apart: the probe's, the scan's, or both.
void name_apart(std::vector<Beam>& beams) {
    const auto differ = [&](auto member) {
        return std::ranges::any_of(beams, [&](const Beam& beam) { return beam.*member != beams.front().*member; });
    };
    const bool probes = differ(&Beam::probe_name);
    const bool scans = differ(&Beam::scan_name);
    for (Beam& beam : beams) {
        beam.name =
            probes && scans ? beam.probe_name + ", " + beam.scan_name : (scans ? beam.scan_name : beam.probe_name);
    }
}

/// As deep as the scans look; of beams without a focus, past the end of every near zone.
double default_depth_m(std::span<const Beam> beams, double scanned_m) {
    double depth_m = scanned_m;
    for (const Beam& beam : beams) {
        if (beam.unfocused && beam.aperture.plain) {
            const double past_m = 1.6 * near_zone_m(beam.aperture, beam.field.wavelength_m());
            depth_m = std::max(depth_m, std::ceil(past_m / (10.0 * mm)) * 10.0 * mm);
        }
    }
    return std::min(depth_m, std::max(scanned_m, most_default_depth_m));
}

void refuse_outputs(const FieldOptions& options) {
    if (options.map) {
        refuse_existing({&*options.map, 1}, options.force, "--map");
    }
    if (options.csv) {
        refuse_existing({&*options.csv, 1}, options.force, "--csv");
    }
    if (options.plot) {
        if (options.plot->extension() != ".png") {
            throw InputError({"--plot"}, "is " + options.plot->string() + "; give the name of a picture, NAME.png");
        }
        refuse_existing(beam_curve_files(*options.plot), options.force, "--plot");
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

Beam describe_beam(const Probe& probe, const Scan& scan, std::size_t event_index, bool without_focus,
                   const Medium& medium, double frequency_Hz) {
    const TransmitEvent& planned = scan.events[event_index];
    const TransmitEvent event = without_focus ? unfocused(probe, scan.head, planned) : planned;
    const double focus_m = (event.focus_m - event.origin_m).dot(event.direction);
    return {.name = probe.name,
            .probe_name = probe.name,
            .scan_name = scan.name,
            .event = event_index,
            .events = scan.events.size(),
            .unfocused = without_focus,
            .frequency_Hz = frequency_Hz,
            .focus_m = focus_m > 0.0 ? focus_m : 0.0,
            .field = TransmittedField(probe, scan.head, event, medium, frequency_Hz),
            .aperture = beam_aperture(probe, event),
            .axis = beam_axis(event),
            .face = sending_face(probe, scan, event),
            .face_radius_m = probe.radius_m,
            .near_zone_m = {},
            .last_maximum_m = {},
            .rule_half_angle_rad = {},
            .far_half_angle_rad = {},
            .depth_m = {},
            .pressure = {},
            .edges = {}};
}

void measure_beam(Beam& beam, double depth_m) {
    const double lambda = beam.field.wavelength_m();
    const bool diverges = beam.face_radius_m > 0.0 && beam.focus_m == 0.0;
    if (!diverges) {
        beam.near_zone_m = near_zone_m(beam.aperture, lambda);
    }
    if (beam.near_zone_m && beam.focus_m == 0.0) {
        const double deepest_m = std::max({depth_m, 2.0 * *beam.near_zone_m, 3.0 * lambda});
        beam.last_maximum_m = last_axial_maximum_m(beam.field, beam.axis, lambda, deepest_m);
    }
    if (beam.aperture.plain) {
        beam.rule_half_angle_rad = rule_half_angle_rad(beam.aperture, lambda);
    }
    beam.far_half_angle_rad = far_half_angle_rad(beam.field, beam.aperture, beam.axis);

    const double step_m = round_step(depth_m / mm / most_widths) * mm;
    const auto widths = static_cast<std::size_t>(std::floor(depth_m / step_m * (1.0 + 1e-9)));
    std::vector<Vec3> points;
    for (std::size_t i = 1; i <= widths * edge_stride; ++i) {
        beam.depth_m.push_back(step_m * static_cast<double>(i) / edge_stride);
        points.push_back(beam.axis.point(beam.depth_m.back()));
    }
    beam.pressure = beam.field.amplitudes(points);
    beam.edges.resize(points.size());
    for (std::size_t i = edge_stride - 1; i < points.size(); i += edge_stride) {
        beam.edges[i] = beam_edges(beam.field, beam.aperture, beam.axis, beam.depth_m[i]);
    }
}

void run(const FieldOptions& options) {
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
        const double frequency_Hz = options.MHz ? *options.MHz * 1e6 : probe.center_Hz;
        beams.push_back(
            describe_beam(probe, scan, chosen_event(options, scan), options.unfocused, medium, frequency_Hz));
        scanned_m = std::max(scanned_m, scan.most_depth_m);
    }
    name_apart(beams);
    const double depth_m = options.depth_mm ? *options.depth_mm * mm : default_depth_m(beams, scanned_m);
    for (Beam& beam : beams) {
        measure_beam(beam, depth_m);
    }
    if (options.csv) {
        write_file(*options.csv, field_csv(beams));
    }
    if (options.map) {
        draw_beam_maps(beams, options.width_mm.value_or(0.0) * mm / 2.0, *options.map);
    }
    if (options.plot) {
        draw_beam_curves(beams, *options.plot);
    }
    print(options.json ? field_json(beams) : field_text(beams));
    for (const auto& drawn : {options.map, options.plot}) {
        if (drawn) {
            note("drawn: " + drawn->string());
        }
    }
}

}  // namespace echoloom
