#include "recon/measure/prediction.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>
#include <numbers>
#include <optional>
#include <vector>

#include "recon/beamform/beamform.h"
#include "recon/measure/elevation.h"
#include "recon/measure/interpolate.h"
#include "recon/measure/point_view.h"
#include "recon/measure/point_width.h"
#include "recon/measure/theory.h"
#include "recon/measure/wave_sum.h"

namespace echoloom {
namespace {

/// The predicted patch is sampled this finely: values per rule width across, and per axial rule width along.
constexpr double lateral_samples = 6.0;
constexpr double axial_samples = 8.0;
/// It reaches this many rule widths to either side, and further where a beam is out of focus.
constexpr double lateral_reach = 6.0;
constexpr double axial_reach = 3.0;

/// One way between an element and the point.
struct Path {
    double amplitude = 0.0;
    double distance_m = 0.0;
    double delay_s = 0.0;
    double width_s = 0.0;  ///< element width times direction cosine over c: the sinc's argument per hertz
};

/// One recording, recipe and point, ready to be summed at any pixel.
struct Scene {
    const RecordingInfo& info;
    const Recipe& recipe;
    const PredictionTerms& terms;
    PointView view;
    double speed;          ///< of the medium
    double assumed_speed;  ///< of the recipe
    double shown_depth;    ///< where the point appears along the beam
    /// T(f, s) of each event where the point rests and the pixel moves (grids); empty for lines.
    std::vector<Spectrum> transmit = {};
    std::optional<ElevationTable> elevation = {};  ///< where the terms ask for it
};

Path path_to(const Scene& scene, int index, const Vec3& point) {
    const Element& element = scene.info.probe.elements[static_cast<std::size_t>(index)];
    const Vec3 ray = point - element.center_m;
    const double distance = ray.norm();
    Path path{1.0, distance, distance / scene.speed, 0.0};
    if (scene.terms.spreading) path.amplitude /= distance;
    if (scene.terms.directivity) {
        const Vec3 lateral = Vec3::UnitY().cross(element.normal).normalized();
        path.width_s = element.width_m * ray.dot(lateral) / distance / scene.speed;
        if (scene.info.probe.baffle == Baffle::soft) path.amplitude *= ray.dot(element.normal) / distance;
    }
    return path;
}

/// Adds weight * g(f) * exp(j 2 pi f assumed_s): a path and the time that makes up for it.
void add_path(Spectrum& sum, const Frequencies& frequencies, const Scene& scene, const Path& path, double weight,
              double assumed_s) {
    Rotation wave(frequencies, assumed_s - path.delay_s);
    const double slope = std::numbers::pi * path.width_s;  // of the sinc's argument against frequency
    const bool wide = std::abs(slope) * frequencies.at(frequencies.count - 1) > 1e-6;
    Rotation sine(frequencies, 0.5 * path.width_s);
    const double amplitude = weight * path.amplitude;
    const auto factors = scene.elevation ? scene.elevation->at(path.distance_m) : ElevationTable::Rows{};
    for (std::size_t n = 0; n < frequencies.count; ++n) {
        const double sinc = wide ? sine.next().imag() / (slope * frequencies.at(n)) : 1.0;
        const Complex value = sinc * amplitude * wave.next();
        sum[n] += scene.elevation ? product(value, factors.at(n)) : value;
    }
}

/// T(f, s) of one event.
Spectrum transmit_sum(const Frequencies& frequencies, const Scene& scene, const TransmitEvent& event,
                      const Vec3& point) {
    Spectrum sum(frequencies.count);
    for (std::size_t e = 0; e < event.weight.size(); ++e) {
        if (event.weight[e] == 0.0) continue;
        const Path path = path_to(scene, static_cast<int>(e), point);
        add_path(sum, frequencies, scene, path, event.weight[e], -event.delay_s[e]);
    }
    return sum;
}

/// Time the recipe assumes for the way out to a pixel.
double transmit_time(const Scene& scene, const TransmitEvent& event, const Vec3& pixel) {
    const Vec3 way = pixel - event.origin_m;
    const double length = event.kind == TransmitKind::element ? way.norm() : way.dot(event.direction);
    return length / scene.assumed_speed;
}

/// Time the recipe assumes for the way back from a pixel at `depth` below `origin` on the line along `direction`.
double receive_time(const Scene& scene, int index, const Vec3& origin, const Vec3& direction, double depth) {
    const Vec3& element = scene.info.probe.elements[static_cast<std::size_t>(index)].center_m;
    const double focus = receive_focus_m(scene.recipe, depth);
    return (depth - focus + (origin + focus * direction - element).norm()) / scene.assumed_speed;
}

/// R(f, s, q) of the listeners of an event.
Spectrum receive_sum(const Frequencies& frequencies, const Scene& scene, std::span<const int> listeners,
                     const Vec3& origin, const Vec3& point) {
    Spectrum sum(frequencies.count);
    const auto weights = receive_weights(scene.info, scene.recipe, listeners, origin, scene.shown_depth);
    for (std::size_t n = 0; n < listeners.size(); ++n) {
        if (weights[n] == 0.0) continue;
        const Path path = path_to(scene, listeners[n], point);
        const double time = receive_time(scene, listeners[n], origin, scene.view.direction, scene.shown_depth);
        add_path(sum, frequencies, scene, path, weights[n], time);
    }
    return sum;
}

/// Sum over events without E, at a lateral offset (m, across the beam) of the pixel from the point.
Spectrum beamformed(const Frequencies& frequencies, const Scene& scene, double offset) {
    const PointView& view = scene.view;
    Spectrum total(frequencies.count);
    const Vec3 true_place = view.at_depth(view.depth_m);
    if (view.line_scan) {
        const Vec3 point = true_place - offset * view.across;
        const TransmitEvent& event = *view.events.front();
        Spectrum out(frequencies.count);
        add_delayed(out, transmit_sum(frequencies, scene, event, point), frequencies, 1.0,
                    scene.shown_depth / scene.assumed_speed);
        add_product(total, out, receive_sum(frequencies, scene, event.listeners, view.origin_m, point));
        return total;
    }
    const Vec3 origin = view.origin_m + offset * view.across;
    const Vec3 pixel = origin + scene.shown_depth * view.direction;
    const auto weights = event_weights(scene.info, scene.recipe, view, pixel);
    // Events in a row that share their listeners share the receive sum.
    for (std::size_t first = 0; first < view.events.size();) {
        const auto& listeners = view.events[first]->listeners;
        Spectrum out(frequencies.count);
        std::size_t next = first;
        for (; next < view.events.size() && view.events[next]->listeners == listeners; ++next) {
            add_delayed(out, scene.transmit[next], frequencies, weights[next],
                        transmit_time(scene, *view.events[next], pixel));
        }
        add_product(total, out, receive_sum(frequencies, scene, listeners, origin, true_place));
        first = next;
    }
    return total;
}

/// The recipe's low cut: a raised cosine from a third of its frequency to five thirds.
double receiver_gain(const Scene& scene, double frequency) {
    const double half = scene.recipe.low_cut_Hz.value_or(default_low_cut(scene.info.probe.bandwidth_fraction) *
                                                         scene.info.probe.center_Hz);
    if (!(half > 0.0)) return 1.0;
    const double place = std::clamp((frequency / half - 1.0 / 3.0) * 0.75, 0.0, 1.0);
    return 0.5 - 0.5 * std::cos(std::numbers::pi * place);
}

Spectrum echo_spectrum(const Frequencies& frequencies, const Scene& scene) {
    Spectrum spectrum(frequencies.count, 1.0);
    for (std::size_t n = 0; n < spectrum.size() && scene.terms.broadband; ++n) {
        const double f = frequencies.at(n);
        spectrum[n] = pulse_spectrum(scene.info.probe.pulse, f) * receiver_gain(scene, f);
    }
    return spectrum;
}

/// Distance along the array of the farthest element that takes part.
double farthest_element_m(const Scene& scene) {
    double farthest = 0.0;
    const auto heed = [&](std::size_t element) {
        const Vec3 apart = scene.info.probe.elements[element].center_m - scene.view.origin_m;
        farthest = std::max(farthest, apart.norm());
    };
    for (const TransmitEvent* event : scene.view.events) {
        for (std::size_t e = 0; e < event->weight.size(); ++e) {
            if (event->weight[e] != 0.0) heed(e);
        }
        for (const int r : event->listeners) heed(static_cast<std::size_t>(r));
    }
    return farthest;
}

/// Factors for all distances between elements and point that the patch holds.
ElevationTable elevation_table(const Scene& scene, const Frequencies& frequencies, double reach) {
    double least = std::numeric_limits<double>::infinity(), most = 0.0;
    const Vec3 place = scene.view.at_depth(scene.view.depth_m);
    for (const double offset : {-reach, 0.0, reach}) {
        for (const Element& element : scene.info.probe.elements) {
            const double distance = (place + offset * scene.view.across - element.center_m).norm();
            least = std::min(least, distance);
            most = std::max(most, distance);
        }
    }
    // No element that takes part lies farther off than the apertures and the patch reach.
    most = std::min(most, std::hypot(scene.view.depth_m, farthest_element_m(scene) + reach));
    return {scene.info.probe,
            scene.info.medium,
            scene.terms.wire_length_m,
            {scene.terms.elevation, scene.terms.attenuation},
            frequencies,
            least,
            most};
}

/// Lateral extent of a transmit aperture.
double transmit_aperture(const RecordingInfo& info, const TransmitEvent& event) {
    double least = std::numeric_limits<double>::infinity(), most = -least;
    for (std::size_t e = 0; e < event.weight.size(); ++e) {
        if (event.weight[e] == 0.0) continue;
        least = std::min(least, info.probe.elements[e].center_m.x());
        most = std::max(most, info.probe.elements[e].center_m.x());
    }
    return most - least;
}

/// Half width of what an aperture's beam can fill at a depth: geometric blur out of focus plus diffraction.
double beam_reach_m(const Scene& scene, double aperture, double depth, double focus) {
    const double wavelength = scene.info.probe.wavelength_m(scene.speed);
    const double blur = std::isfinite(focus) && focus > 0.0 ? std::abs(1.0 - depth / focus) : 1.0;
    return 0.75 * aperture * blur + lateral_reach * wavelength * depth / std::max(aperture, wavelength);
}

/// How far to either side the patch must reach: the sharper of the two beams bounds it.
double lateral_reach_m(const Scene& scene, double rule) {
    if (!scene.view.line_scan) return lateral_reach * rule;
    const TransmitEvent& event = *scene.view.events.front();
    const double out = beam_reach_m(scene, transmit_aperture(scene.info, event), scene.view.depth_m,
                                    (event.focus_m - event.origin_m).norm());
    const double back = beam_reach_m(scene, receive_aperture_m(scene.recipe, scene.info, scene.shown_depth),
                                     scene.shown_depth, receive_focus_m(scene.recipe, scene.shown_depth));
    return std::max(lateral_reach * rule, std::min(out, back));
}

/// Longest spread of delay errors among the elements over the patch, out and back: what one period of the sum over
/// frequencies has to hold.
double delay_spread_s(const Scene& scene, double reach) {
    const PointView& view = scene.view;
    double spread = 0.0;
    for (const double offset : {-reach, 0.0, reach}) {
        const Vec3 moved = offset * view.across;
        const Vec3 point = view.at_depth(view.depth_m) - (view.line_scan ? moved : Vec3::Zero());
        const Vec3 origin = view.origin_m + (view.line_scan ? Vec3::Zero() : moved);
        const Vec3 pixel = origin + scene.shown_depth * view.direction;
        double least = 0.0, most = 0.0, least_back = 0.0, most_back = 0.0;
        for (const TransmitEvent* event : view.events) {
            const double assumed =
                view.line_scan ? scene.shown_depth / scene.assumed_speed : transmit_time(scene, *event, pixel);
            for (std::size_t e = 0; e < event->weight.size(); ++e) {
                if (event->weight[e] == 0.0) continue;
                const double error = assumed - event->delay_s[e] - path_to(scene, static_cast<int>(e), point).delay_s;
                least = std::min(least, error);
                most = std::max(most, error);
            }
            for (const int r : event->listeners) {
                const double error = receive_time(scene, r, origin, view.direction, scene.shown_depth) -
                                     path_to(scene, r, point).delay_s;
                least_back = std::min(least_back, error);
                most_back = std::max(most_back, error);
            }
        }
        spread = std::max(spread, most - least + most_back - least_back);
    }
    return spread;
}

Frequencies frequencies_for(const Scene& scene, double reach, double axial_rule) {
    const Probe& probe = scene.info.probe;
    if (!scene.terms.broadband) return {probe.center_Hz, 0.0, 1};
    const double pulse_s = 2.0 * axial_rule / scene.speed;
    const double period = delay_spread_s(scene, reach) + (8.0 + 2.0 * axial_reach) * pulse_s;
    const double highest = pulse_highest_frequency(probe.pulse, 1e-3);
    const auto count = static_cast<std::size_t>(std::clamp(std::ceil(highest * period), 24.0, 4096.0));
    const double step = highest / static_cast<double>(count);
    return {step, step, count};
}

/// The computed image of the point: envelope on [offset, depth].
struct Patch {
    std::vector<double> offset_m, depth_m;
    std::vector<float> values;

    FieldView view() const { return {values, offset_m.size(), depth_m.size()}; }
};

std::vector<double> spaced(double reach, double step) {
    std::vector<double> values;
    const auto half = static_cast<int>(std::ceil(reach / step));
    for (int n = -half; n <= half; ++n) values.push_back(n * step);
    return values;
}

Patch compute_patch(Scene scene, double rule, double axial_rule) {
    const double reach = lateral_reach_m(scene, rule);
    const Frequencies frequencies = frequencies_for(scene, reach, axial_rule);
    const Spectrum spectrum = echo_spectrum(frequencies, scene);
    if (scene.terms.elevation || scene.terms.attenuation || scene.terms.wire_length_m > 0.0) {
        scene.elevation = elevation_table(scene, frequencies, reach);
    }
    if (!scene.view.line_scan) {
        const Vec3 point = scene.view.at_depth(scene.view.depth_m);
        for (const TransmitEvent* event : scene.view.events) {
            scene.transmit.push_back(transmit_sum(frequencies, scene, *event, point));
        }
    }
    Patch patch;
    patch.offset_m = spaced(reach, rule / lateral_samples);
    patch.depth_m =
        scene.terms.broadband ? spaced(axial_reach * axial_rule, axial_rule / axial_samples) : std::vector<double>{0.0};
    std::vector<double> envelope;
    for (const double offset : patch.offset_m) {
        const Spectrum sum = beamformed(frequencies, scene, offset);
        for (const double depth : patch.depth_m) {
            const double time = 2.0 * depth / scene.assumed_speed;
            Rotation rotation(frequencies, time);
            Complex value = 0.0;
            for (std::size_t n = 0; n < frequencies.count; ++n) {
                value += product(product(spectrum[n], sum[n]), rotation.next());
            }
            envelope.push_back(std::abs(value));
        }
    }
    const double most = *std::max_element(envelope.begin(), envelope.end());
    for (const double value : envelope) patch.values.push_back(static_cast<float>(most > 0.0 ? value / most : 0.0));
    return patch;
}

/// The peak where measure_point would look for it: out of focus, the arc above the point may be brighter.
FieldPeak peak_of(const Patch& patch, double axial_rule) {
    const FieldView field = patch.view();
    std::size_t column = 0, depth = field.depths / 2;
    for (std::size_t c = 0; c < field.columns; ++c) {
        for (std::size_t d = 0; d < field.depths; ++d) {
            const bool inside = std::abs(patch.depth_m[d]) <= search_cells * axial_rule;
            if (inside && field.at(c, d) > field.at(column, depth)) {
                column = c;
                depth = d;
            }
        }
    }
    return refine_peak(field, column, depth);
}

}  // namespace

PointPrediction predict_point(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m,
                              const PredictionTerms& terms) {
    const double assumed = assumed_sound_speed_m_s(info, recipe);
    Scene scene{info, recipe, terms, view_of(info, point_m), info.medium.sound_speed_m_s, assumed, 0.0};
    scene.shown_depth = scene.view.depth_m * assumed / scene.speed;
    const double rule = lateral_rule_m(info, recipe, point_m, 0.5);
    PointPrediction prediction;
    if (!std::isfinite(rule) || !(scene.view.depth_m > 0.0)) {
        prediction.lateral_half.reason = prediction.lateral_tenth.reason = "no aperture sees this point";
        return prediction;
    }
    const double axial_rule = axial_rule_m(info.probe, scene.speed, 0.5);
    const Patch patch = compute_patch(scene, rule, axial_rule);
    const FieldView field = patch.view();
    const FieldPeak peak = peak_of(patch, axial_rule);
    prediction.lateral_reach_m = patch.offset_m.back();
    prediction.lateral.position_m = patch.offset_m;
    for (std::size_t c = 0; c < field.columns; ++c) {
        prediction.lateral.amplitude.push_back(interpolate(field, static_cast<double>(c), peak.depth));
    }
    prediction.lateral_half = width_at_level(prediction.lateral, peak.column, 0.5);
    prediction.lateral_tenth = width_at_level(prediction.lateral, peak.column, 0.1);
    if (!terms.broadband) return prediction;
    prediction.axial.position_m = patch.depth_m;
    for (std::size_t d = 0; d < field.depths; ++d) {
        prediction.axial.amplitude.push_back(interpolate(field, peak.column, static_cast<double>(d)));
    }
    prediction.axial_half = width_at_level(prediction.axial, peak.depth, 0.5);
    prediction.axial_tenth = width_at_level(prediction.axial, peak.depth, 0.1);
    return prediction;
}

}  // namespace echoloom
