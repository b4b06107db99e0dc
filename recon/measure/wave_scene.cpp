#include "recon/measure/wave_scene.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "recon/beamform/beamform.h"
#include "recon/beamform/focus_cone.h"
#include "recon/measure/theory.h"

namespace echoloom {
namespace {

/// One way between an element and the point.
struct Path {
    double amplitude = 0.0;
    double distance_m = 0.0;  ///< within the plane of the element's lateral axis and normal
    double delay_s = 0.0;
    double width_s = 0.0;  ///< element width times direction cosine over c: the sinc's argument per hertz
};

const Element& element_at(const WaveScene& scene, std::size_t index) {
    return scene.info.probe.elements[index];
}

Path path_to(const WaveScene& scene, const Element& element, const Vec3& point) {
    const Vec3 ray = point - element.center_m;
    const double distance = ray.norm();
    const double in_plane = std::hypot(ray.x(), ray.z());
    Path path{1.0, in_plane, in_plane / scene.speed, 0.0};
    // The factors of ElevationTable cover the rest, in elevation.
    if (scene.terms.spreading) path.amplitude /= in_plane;
    if (scene.terms.directivity) {
        const Vec3 lateral = Vec3::UnitY().cross(element.normal).normalized();
        path.width_s = element.width_m * ray.dot(lateral) / distance / scene.speed;
        if (scene.info.probe.baffle == Baffle::soft) path.amplitude *= ray.dot(element.normal) / distance;
    }
    return path;
}

/// Adds weight * g(f) * exp(j 2 pi f assumed_s): a path and the time that compensates it.
void add_path(Spectrum& sum, const Frequencies& frequencies, const WaveScene& scene, const TargetSlice& slice,
              std::size_t index, const Vec3& point, double weight, double assumed_s) {
    const Element& element = element_at(scene, index);
    if (element.is_ring()) {
        const RingPlace place = ring_place(element, point);
        const double distance = place.distance_m();
        const double amplitude = scene.terms.spreading ? weight : weight * distance;
        const double time = assumed_s - distance / scene.speed;
        if (scene.rings) {
            scene.rings->add(sum, index, place, amplitude, time);
        } else {
            const bool attenuated = scene.terms.attenuation;
            const Spectrum response = ring_response_at(element, scene.info.medium, attenuated, frequencies, place);
            add_delayed(sum, response, frequencies, amplitude, time);
        }
        return;
    }
    const Path path = path_to(scene, element, point);
    Rotation wave(frequencies, assumed_s - path.delay_s);
    const double slope = std::numbers::pi * path.width_s;  // of the sinc's argument against frequency
    const bool wide = std::abs(slope) * frequencies.at(frequencies.count - 1) > 1e-6;
    Rotation sine(frequencies, 0.5 * path.width_s);
    const double amplitude = weight * path.amplitude;
    const ElevationTable* table =
        slice.rows.empty() ? nullptr : &slice.rows[index % static_cast<std::size_t>(scene.info.probe.rows)];
    const auto factors = table ? table->at(path.distance_m) : ElevationTable::Rows{};
    for (std::size_t n = 0; n < frequencies.count; ++n) {
        const double sinc = wide ? sine.next().imag() / (slope * frequencies.at(n)) : 1.0;
        const Complex value = sinc * amplitude * wave.next();
        sum[n] += table ? product(value, factors.at(n)) : value;
    }
}

/// Sums are kept apart by row where a wire couples the rows.
using RowSums = std::vector<Spectrum>;

RowSums empty_sums(const Frequencies& frequencies, const WaveScene& scene) {
    const std::size_t rows = scene.coupling.empty() ? 1 : static_cast<std::size_t>(scene.info.probe.rows);
    return RowSums(rows, Spectrum(frequencies.count));
}

/// T(f, s) of one event.
RowSums transmit_sum(const Frequencies& frequencies, const WaveScene& scene, const TargetSlice& slice,
                     const TransmitEvent& event, const Vec3& point) {
    RowSums sums = empty_sums(frequencies, scene);
    const Vec3 place = point_on_transmit(scene, event, point);
    for (std::size_t e = 0; e < event.weight.size(); ++e) {
        if (event.weight[e] == 0.0) continue;
        add_path(sums[e % sums.size()], frequencies, scene, slice, e, place, event.weight[e], -event.delay_s[e]);
    }
    return sums;
}

/// Transmit time that the recipe assumes for a pixel.
double transmit_time(const WaveScene& scene, const TransmitEvent& event, const Vec3& pixel) {
    if (event.kind == TransmitKind::diverging) {
        return ((pixel - event.focus_m).norm() - (event.origin_m - event.focus_m).norm()) / scene.assumed_speed;
    }
    if (event.kind == TransmitKind::focused && !scene.view.line_scan) {
        const auto index = static_cast<std::size_t>(&event - scene.info.events.data());
        return FocusCone(scene.info, index, scene.assumed_speed).path_m(pixel) / scene.assumed_speed;
    }
    const Vec3 way = pixel - event.origin_m;
    const double length = event.kind == TransmitKind::element ? way.norm() : way.dot(event.direction);
    return length / scene.assumed_speed;
}

/// Where the recipe takes an element to be: a ring as one point of the circle that halves its area.
Vec3 assumed_place(const Element& element) {
    return element.is_ring() ? Vec3(element.center_m + ring_radius_m(element) * Vec3::UnitY()) : element.center_m;
}

/// The line or column on which the recipe focuses on receive, as the array sees it.
ViewColumn receive_line(const WaveScene& scene, const TransmitEvent& event, const ViewColumn& column) {
    if (!scene.info.head) return column;
    const HeadPose pose = head_pose(*scene.info.head, event.head_angle_rad);
    return {pose.to_head(column.origin_m), pose.to_head(pose.origin_m + column.direction)};
}

/// The pixel's column, with the pixel at an offset from the point: for lines the column rests and the point moves.
ViewColumn pixel_column_at(const WaveScene& scene, double offset) {
    const PointView& view = scene.view;
    return view.line_scan ? ViewColumn{view.origin_m, view.direction} : view.column_beside(offset);
}

/// Receive time that the recipe assumes for a pixel at `depth` along the line.
double receive_time(const WaveScene& scene, const Element& element, const ViewColumn& line, double depth) {
    const double focus = receive_focus_m(scene.recipe, depth);
    const Vec3 place = line.origin_m + focus * line.direction;
    return (depth - focus + (place - assumed_place(element)).norm()) / scene.assumed_speed;
}

/// R(f, s, q) of the receive elements of an event.
RowSums receive_sum(const Frequencies& frequencies, const WaveScene& scene, const TargetSlice& slice,
                    const TransmitEvent& event, const ViewColumn& column, const Vec3& point) {
    RowSums sums = empty_sums(frequencies, scene);
    const ViewColumn line = receive_line(scene, event, column);
    const auto weights = receive_weights(scene.info, scene.recipe, event.receivers, line.origin_m, scene.shown_depth);
    const Vec3 place = point_on_receive(scene, event, point);
    for (std::size_t n = 0; n < event.receivers.size(); ++n) {
        if (weights[n] == 0.0) continue;
        const auto index = static_cast<std::size_t>(event.receivers[n]);
        const double time = receive_time(scene, element_at(scene, index), line, scene.shown_depth);
        add_path(sums[index % sums.size()], frequencies, scene, slice, index, place, weights[n], time);
    }
    return sums;
}

void add_products(Spectrum& total, const WaveScene& scene, const RowSums& out, const RowSums& back, double weight) {
    for (std::size_t i = 0; i < out.size(); ++i) {
        for (std::size_t j = 0; j < back.size(); ++j) {
            for (std::size_t n = 0; n < total.size(); ++n) {
                const Complex value = weight * product(out[i][n], back[j][n]);
                total[n] += scene.coupling.empty() ? value : product(value, scene.coupling[i * back.size() + j][n]);
            }
        }
    }
}

/// Events that receive with the same elements: their transmit sums can be added first.
bool same_receivers(const WaveScene& scene, const TransmitEvent& a, const TransmitEvent& b) {
    return a.receivers == b.receivers && (!scene.info.head || a.head_angle_rad == b.head_angle_rad);
}

void add_slice(Spectrum& total, const Frequencies& frequencies, const WaveScene& scene, const TargetSlice& slice,
               double offset) {
    const PointView& view = scene.view;
    const Vec3 off_plane = Vec3(0.0, slice.elevation_m, 0.0);
    const Vec3 point = off_plane + (view.line_scan ? view.moved_laterally(-offset) : view.at_depth(view.depth_m));
    const ViewColumn column = pixel_column_at(scene, offset);
    const Vec3 pixel = column.origin_m + scene.shown_depth * column.direction;
    const auto weights =
        scene.rest_weights.empty() ? event_weights(scene.info, scene.recipe, view, pixel) : scene.rest_weights;
    for (std::size_t first = 0; first < view.events.size();) {
        RowSums out = empty_sums(frequencies, scene);
        std::size_t next = first;
        for (; next < view.events.size() && same_receivers(scene, *view.events[next], *view.events[first]); ++next) {
            if (weights[next] == 0.0) continue;
            const TransmitEvent& event = *view.events[next];
            const double time = transmit_time(scene, event, pixel);
            const RowSums fresh =
                slice.transmit.empty() ? transmit_sum(frequencies, scene, slice, event, point) : RowSums{};
            for (std::size_t row = 0; row < out.size(); ++row) {
                const Spectrum& sum = fresh.empty() ? slice.transmit[next * out.size() + row] : fresh[row];
                add_delayed(out[row], sum, frequencies, weights[next], time);
            }
        }
        const RowSums back = receive_sum(frequencies, scene, slice, *view.events[first], column, point);
        add_products(total, scene, out, back, slice.weight);
        first = next;
    }
}

/// Shortest and longest travel time between an element and a point.
struct Travel {
    double min_s, max_s;
};

Travel travel(const WaveScene& scene, const Element& element, const Vec3& point) {
    if (!element.is_ring()) {
        const double time = (point - element.center_m).norm() / scene.speed;
        return {time, time};
    }
    const RingPlace place = ring_place(element, point);
    return {place.height_m / scene.speed, std::hypot(place.height_m, place.radius_m + element.outer_m) / scene.speed};
}

/// The range of some delay errors, 0 among them.
struct ErrorRange {
    double min_s = 0.0, max_s = 0.0;

    void add(double assumed_s, const Travel& way) {
        min_s = std::min(min_s, assumed_s - way.max_s);
        max_s = std::max(max_s, assumed_s - way.min_s);
    }
};

/// Of one event, the pixel at an offset from the point.
double delay_spread_s(const WaveScene& scene, const TransmitEvent& event, double offset) {
    const PointView& view = scene.view;
    const Vec3 point = view.line_scan ? view.moved_laterally(-offset) : view.at_depth(view.depth_m);
    const ViewColumn column = pixel_column_at(scene, offset);
    const Vec3 pixel = column.origin_m + scene.shown_depth * column.direction;
    ErrorRange out, back;
    const Vec3 on_transmit = point_on_transmit(scene, event, point);
    for (std::size_t e = 0; e < event.weight.size(); ++e) {
        if (event.weight[e] == 0.0) continue;
        out.add(transmit_time(scene, event, pixel) - event.delay_s[e],
                travel(scene, element_at(scene, e), on_transmit));
    }
    const ViewColumn line = receive_line(scene, event, column);
    const Vec3 on_receive = point_on_receive(scene, event, point);
    for (const int receiver : event.receivers) {
        const Element& element = element_at(scene, static_cast<std::size_t>(receiver));
        back.add(receive_time(scene, element, line, scene.shown_depth), travel(scene, element, on_receive));
    }
    return out.max_s - out.min_s + back.max_s - back.min_s;
}

}  // namespace

Vec3 point_on_transmit(const WaveScene& scene, const TransmitEvent& event, const Vec3& point) {
    return scene.info.head ? head_pose(*scene.info.head, event.head_angle_rad).to_head(point) : point;
}

Vec3 point_on_receive(const WaveScene& scene, const TransmitEvent& event, const Vec3& point) {
    if (!scene.info.head) return point;
    const double way = point_on_transmit(scene, event, point).norm();
    const double turned = scene.info.head->rotation_rate_rad_s * 2.0 * way / scene.speed;
    return head_pose(*scene.info.head, event.head_angle_rad + turned).to_head(point);
}

double delay_spread_s(const WaveScene& scene, double reach_m) {
    double spread = 0.0;
    for (const double offset : {-reach_m, 0.0, reach_m}) {
        for (const TransmitEvent* event : scene.view.events) {
            spread = std::max(spread, delay_spread_s(scene, *event, scene.middle_m + offset));
        }
    }
    return spread;
}

void rest_target(WaveScene& scene, const Frequencies& frequencies) {
    if (scene.view.line_scan) return;
    for (TargetSlice& slice : scene.slices) {
        const Vec3 point = scene.view.at_depth(scene.view.depth_m) + Vec3(0.0, slice.elevation_m, 0.0);
        for (const TransmitEvent* event : scene.view.events) {
            for (Spectrum& sum : transmit_sum(frequencies, scene, slice, *event, point)) {
                slice.transmit.push_back(std::move(sum));
            }
        }
    }
}

WaveScene make_scene(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m,
                     const PredictionTerms& terms) {
    const double assumed = assumed_sound_speed_m_s(info, recipe);
    const double speed = info.medium.sound_speed_m_s;
    WaveScene scene{info,
                    recipe,
                    terms,
                    view_of(info, recipe, point_m),
                    speed,
                    assumed,
                    0.0,
                    lateral_theory_m(info, recipe, point_m, 0.5),
                    axial_theory_m(info.probe, speed, 0.5)};
    scene.shown_depth = scene.view.depth_m * assumed / speed;
    if (scene.view.line_scan) {
        scene.rest_weights = event_weights(info, recipe, scene.view, scene.view.at_depth(scene.shown_depth));
    }
    if (info.head) {
        // The head receives at an angle past that of transmission: the two beams cross half way between.
        const double turned = info.head->rotation_rate_rad_s * 2.0 * scene.view.depth_m / speed;
        scene.middle_m = -0.5 * turned * (info.head->axis_to_face_m + scene.view.depth_m);
    }
    return scene;
}

Spectrum beamformed(const Frequencies& frequencies, const WaveScene& scene, std::span<const TargetSlice> slices,
                    double offset_m) {
    Spectrum total(frequencies.count);
    for (const TargetSlice& slice : slices) add_slice(total, frequencies, scene, slice, offset_m);
    return total;
}

WaveScene moved_out(const WaveScene& scene, double elevation) {
    WaveScene moved = scene;
    if (scene.terms.broadband) {
        const double depth = scene.view.depth_m;
        moved.view.depth_m = std::sqrt(std::max(depth * depth - elevation * elevation, 0.01 * depth * depth));
    }
    return moved;
}

}  // namespace echoloom
