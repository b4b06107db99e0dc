// How far a prediction has to reach, at which frequencies, and what it tabulates before it sums.

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "recon/beamform/beamform.h"
#include "recon/measure/theory.h"
#include "recon/measure/wave_scene.h"

namespace echoloom {
namespace {

/// The patch reaches this many theoretical widths to either side, and farther where a beam is out of focus.
constexpr double lateral_reach = 6.0;
/// In elevation only the -6 dB width is needed, and this many suffice.
constexpr double elevation_reach = 3.0;
/// Silence kept around the echo, and around the patch axially, in theoretical axial widths.
constexpr double silence = 14.0;

/// Extent of a transmit aperture along the face.
double transmit_aperture(const RecordingInfo& info, const TransmitEvent& event) {
    double min_x = std::numeric_limits<double>::infinity(), max_x = -min_x;
    for (std::size_t e = 0; e < event.weight.size(); ++e) {
        if (event.weight[e] == 0.0) continue;
        const Element& element = info.probe.elements[e];
        const double place = element.is_ring() ? 0.0 : face_lateral_m(info.probe, element.center_m);
        min_x = std::min(min_x, place - element.outer_m);
        max_x = std::max(max_x, place + element.outer_m);
    }
    return std::max(0.0, max_x - min_x);
}

/// Half width that an aperture's beam can have at a depth: geometric blur out of focus plus diffraction.
double beam_reach_m(const WaveScene& scene, double aperture, double depth, double focus,
                    double widths = lateral_reach) {
    const double wavelength = scene.info.probe.wavelength_m(scene.speed);
    const double blur = std::isfinite(focus) && focus > 0.0 ? std::abs(1.0 - depth / focus) : 1.0;
    return 0.75 * aperture * blur + widths * wavelength * depth / std::max(aperture, wavelength);
}

/// Largest distance of an active element from the line's origin; of rings, of the rim.
double farthest_element_m(const WaveScene& scene) {
    const Vec3 origin = scene.info.head ? Vec3(Vec3::Zero()) : scene.view.origin_m;
    double farthest = 0.0;
    const auto include = [&](std::size_t index) {
        const Element& element = scene.info.probe.elements[index];
        farthest = std::max(farthest, (element.center_m - origin).norm() + element.outer_m);
    };
    for (const TransmitEvent* event : scene.view.events) {
        for (std::size_t e = 0; e < event->weight.size(); ++e) {
            if (event->weight[e] != 0.0) include(e);
        }
        for (const int r : event->receivers) include(static_cast<std::size_t>(r));
    }
    return farthest;
}

/// The recipe's high-pass: a raised cosine from a third of its frequency to five thirds.
double receiver_gain(const WaveScene& scene, double frequency) {
    const double half = scene.recipe.high_pass_Hz.value_or(default_high_pass(scene.info.probe.bandwidth_fraction) *
                                                           scene.info.probe.center_Hz);
    if (!(half > 0.0)) return 1.0;
    const double place = std::clamp((frequency / half - 1.0 / 3.0) * 0.75, 0.0, 1.0);
    return 0.5 - 0.5 * std::cos(std::numbers::pi * place);
}

/// Distances between elements and point that the patch holds.
struct Distances {
    double min_m = std::numeric_limits<double>::infinity();
    double max_m = 0.0;
};

Distances distances(const WaveScene& scene, double reach) {
    Distances range;
    for (const double offset : {-reach, 0.0, reach}) {
        const Vec3 place = scene.view.moved_laterally(offset + scene.middle_m);
        for (const Element& element : scene.info.probe.elements) {
            const Vec3 ray = place - element.center_m;
            const double distance = std::hypot(ray.x(), ray.z());
            range.min_m = std::min(range.min_m, distance);
            range.max_m = std::max(range.max_m, distance);
        }
    }
    // No active element lies farther away than apertures and patch reach.
    range.max_m = std::min(range.max_m, std::hypot(scene.view.depth_m, farthest_element_m(scene) + reach));
    range.min_m = std::min(range.min_m, range.max_m);
    return range;
}

/// Radii and heights at which the rings see the patch, before and after the head has turned.
RingTable::Range ring_range(const WaveScene& scene, const PatchReach& reach) {
    RingTable::Range range{0.0, std::numeric_limits<double>::infinity(), 0.0};
    const TransmitEvent& event = *scene.view.events.front();
    for (const double offset : {-reach.lateral_m, 0.0, reach.lateral_m}) {
        const Vec3 point = scene.view.moved_laterally(-(offset + scene.middle_m)) + Vec3(0.0, reach.elevation_m, 0.0);
        for (const Vec3& place : {point_on_transmit(scene, event, point), point_on_receive(scene, event, point)}) {
            const RingPlace seen = ring_place(scene.info.probe.elements.front(), place);
            range.max_radius_m = std::max(range.max_radius_m, seen.radius_m);
            range.min_height_m = std::min(range.min_height_m, seen.height_m);
            range.max_height_m = std::max(range.max_height_m, seen.height_m);
        }
    }
    return range;
}

bool is_wire(const WaveScene& scene) {
    return scene.terms.wire_length_m > 0.0;
}

/// Elevations along a wire that sum to the integral over it: fine enough for the two-way phase.
std::vector<TargetSlice> wire_slices(const WaveScene& scene, const Frequencies& frequencies, const PatchReach& reach) {
    double rim = 0.0;
    for (const Element& ring : scene.info.probe.elements) rim = std::max(rim, ring.outer_m);
    const double shortest = scene.speed / frequencies.at(frequencies.count - 1);
    const double step = 0.5 * shortest * scene.view.depth_m / (rim + reach.elevation_m);
    const int count = static_cast<int>(std::ceil(reach.elevation_m / step));
    std::vector<TargetSlice> slices;
    // Rings see both halves of the wire equally.
    for (int n = 0; n <= count; ++n) {
        slices.push_back(
            {n * reach.elevation_m / count, (n == 0 || n == count ? 1.0 : 2.0) * reach.elevation_m / count});
    }
    return slices;
}

double row_center_m(const Probe& probe, int row) {
    return probe.elements[static_cast<std::size_t>(row)].center_m.y();
}

/// The response of a wire from each row to each other, over the product of the two rows' own factors.
std::vector<Spectrum> row_coupling(const WaveScene& scene, const Frequencies& frequencies,
                                   const std::vector<ElevationTable>& tables) {
    const Probe& probe = scene.info.probe;
    const double depth = scene.view.depth_m;
    std::vector<Spectrum> coupling;
    for (int out = 0; out < probe.rows; ++out) {
        const auto own_out = tables[static_cast<std::size_t>(out)].at(depth);
        for (int back = 0; back < probe.rows; ++back) {
            const auto own_back = tables[static_cast<std::size_t>(back)].at(depth);
            Spectrum ratio(frequencies.count);
            for (std::size_t n = 0; n < frequencies.count; ++n) {
                const double f = frequencies.at(n);
                const double loss =
                    scene.terms.attenuation ? std::exp(-2.0 * scene.info.medium.attenuation_Np_m(f) * depth) : 1.0;
                ratio[n] = loss *
                           wire_elevation(probe, scene.speed, f, depth, scene.terms.wire_length_m,
                                          row_center_m(probe, out), row_center_m(probe, back)) /
                           product(own_out.at(n), own_back.at(n));
            }
            coupling.push_back(std::move(ratio));
        }
    }
    return coupling;
}

}  // namespace

double lateral_reach_m(const WaveScene& scene) {
    if (!scene.view.line_scan) return lateral_reach * scene.lateral_theory;
    double out = 0.0;
    for (const TransmitEvent* event : scene.view.events) {
        out = std::max(out, beam_reach_m(scene, transmit_aperture(scene.info, *event), scene.view.depth_m,
                                         (event->focus_m - event->origin_m).norm()));
    }
    const double back = beam_reach_m(scene, receive_aperture_m(scene.recipe, scene.info, scene.shown_depth),
                                     scene.shown_depth, receive_focus_m(scene.recipe, scene.shown_depth));
    // Two beams that point past each other overlap in their side lobes.
    return std::max(lateral_reach * scene.lateral_theory, std::min(out, back)) + std::abs(scene.middle_m);
}

double elevation_reach_m(const WaveScene& scene) {
    const Probe& probe = scene.info.probe;
    if (has_rings(probe)) return lateral_reach_m(scene);
    double half = 0.0;
    for (const Element& element : probe.elements) {
        half = std::max(half, std::abs(element.center_m.y()) + 0.5 * element.height_m);
    }
    const double depth = scene.view.depth_m;
    double focus = probe.elevation_focus_m;
    if (probe.rows > 1) focus = receive_focus_m(scene.recipe, scene.shown_depth);
    return beam_reach_m(scene, 2.0 * half, depth, focus, elevation_reach);
}

Frequencies frequencies_for(const WaveScene& scene, const PatchReach& reach) {
    const Probe& probe = scene.info.probe;
    if (!scene.terms.broadband) return {probe.center_Hz, 0.0, 1};
    const double pulse_s = 2.0 * scene.axial_theory / scene.speed;
    const double depth = scene.view.depth_m;
    const double above_s = 2.0 * (std::hypot(depth, reach.elevation_m) - depth) / scene.speed;
    const double period = delay_spread_s(scene, reach.lateral_m) + above_s + silence * pulse_s;
    const double max_frequency = pulse_highest_frequency(probe.pulse, 1e-3);
    const auto count = static_cast<std::size_t>(std::clamp(std::ceil(max_frequency * period), 24.0, 4096.0));
    const double step = max_frequency / static_cast<double>(count);
    return {step, step, count};
}

Spectrum echo_spectrum(const Frequencies& frequencies, const WaveScene& scene) {
    Spectrum spectrum(frequencies.count, 1.0);
    for (std::size_t n = 0; n < spectrum.size() && scene.terms.broadband; ++n) {
        const double f = frequencies.at(n);
        spectrum[n] = pulse_spectrum(scene.info.probe.pulse, f) * receiver_gain(scene, f);
    }
    return spectrum;
}

TargetSlice slice_at(const WaveScene& scene, const Frequencies& frequencies, const PatchReach& reach,
                     double elevation_m) {
    const Probe& probe = scene.info.probe;
    TargetSlice slice{elevation_m};
    if (has_rings(probe) || !(scene.terms.elevation || scene.terms.attenuation || is_wire(scene))) return slice;
    const Distances range = distances(scene, reach.lateral_m);
    for (int row = 0; row < probe.rows; ++row) {
        slice.rows.emplace_back(
            probe, scene.info.medium, ElevationPlace{elevation_m, row_center_m(probe, row), scene.terms.wire_length_m},
            ElevationTerms{scene.terms.elevation, scene.terms.attenuation}, frequencies, range.min_m, range.max_m);
    }
    return slice;
}

void prepare_rings(WaveScene& scene, const Frequencies& frequencies, const PatchReach& reach) {
    if (!has_rings(scene.info.probe)) return;
    scene.rings.emplace(scene.info.probe, scene.info.medium, scene.terms.attenuation, frequencies,
                        ring_range(scene, reach));
}

void prepare_target(WaveScene& scene, const Frequencies& frequencies, const PatchReach& reach) {
    prepare_rings(scene, frequencies, reach);
    if (has_rings(scene.info.probe) && is_wire(scene)) {
        scene.slices = wire_slices(scene, frequencies, reach);
    } else {
        scene.slices = {slice_at(scene, frequencies, reach, 0.0)};
    }
    if (is_wire(scene) && scene.info.probe.rows > 1) {
        scene.coupling = row_coupling(scene, frequencies, scene.slices.front().rows);
    }
    rest_target(scene, frequencies);
}

}  // namespace echoloom
