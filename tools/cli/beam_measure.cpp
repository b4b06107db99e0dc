// What is measured of a beam, and theory for it: near zone, focus, pattern, and widths along the axis.

#include <algorithm>
#include <cmath>

#include "recon/image/axis.h"
#include "sim/base/progress.h"
#include "tools/cli/beam.h"

namespace echoloom {

namespace {

constexpr double mm = 1e-3;
constexpr double max_widths = 100.0;  ///< along the axis, at round depths

/// Whether all that takes part is focused at a distance (none: the far field), so that theory has its pattern.
bool in_focus(const Beam& beam, std::optional<double> distance_m) {
    const auto near = [](double a, double b) { return std::abs(a - b) < 0.01 * b; };
    if (beam.view.plane == BeamPlane::elevation && !beam.elements.front().is_ring()) {
        return distance_m ? near(*distance_m, beam.lens_focus_m) : beam.lens_focus_m == 0.0;
    }
    const auto focused = [&](double focus_m) { return distance_m ? near(*distance_m, focus_m) : focus_m == 0.0; };
    const bool transmit = beam.path == BeamPath::receive || focused(beam.transmit_focus_m);
    const bool receive =
        beam.path == BeamPath::transmit || (distance_m && beam.follows) || focused(beam.receive_focus_m);
    return transmit && receive;
}

/// Distance of the pattern against angle; none: the far field.
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
    // Of a pulse ten near zones count as the far field.
    return beam.view.pulsed ? std::optional(10.0 * near_zone_m(beam.across_aperture, beam.field.wavelength_m()))
                            : std::nullopt;
}

void measure_pattern(Beam& beam) {
    const bool upright = beam.view.plane == BeamPlane::elevation;
    const Vec3 broadside = upright ? beam.axis.direction : beam.broadside;
    const Vec3 aside = upright ? Vec3(Vec3::UnitY()) : Vec3(broadside.z(), 0.0, -broadside.x());
    const auto distance_m = pattern_distance_m(beam);
    beam.pattern = beam_pattern(beam.field, beam.axis.origin_m, broadside, aside, beam.theory.steer_rad,
                                beam.theory.aperture_m, distance_m);
    beam.gratings = grating_lobes(*beam.pattern, beam.theory, beam.passes());
    beam.side_lobe = peak_side_lobe(*beam.pattern, beam.gratings);
    if (in_focus(beam, distance_m)) {
        beam.theory_pattern = theory_pattern(beam, *beam.pattern);
    }
    if (beam.theory_pattern) {
        beam.theory_side_lobe = peak_side_lobe(*beam.theory_pattern, beam.gratings);
    }
}

/// Width at the focus, measured and by theory: the pattern of the weights, lambda z / D times their constant.
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
    const auto theory = theory_pattern(beam, fine);
    if (const auto width = theory ? pattern_width_rad(*theory) : std::nullopt) {
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
        beam.theory_half_angle_rad = theory_half_angle_rad(beam.across_aperture, lambda, beam.passes());
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

}  // namespace echoloom
