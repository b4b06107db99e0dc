#include "sim/engine/field.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "sim/array/face.h"
#include "sim/base/parallel.h"
#include "sim/engine/elements.h"
#include "sim/engine/face_rules.h"
#include "sim/engine/propagation.h"
#include "sim/engine/ring_response.h"

namespace echoloom {

namespace {

using std::numbers::pi;
using Complex = std::complex<double>;

/// The same for every field.
const FaceRules& face_rules() {
    static const FaceRules rules(1e-7);
    return rules;
}

/// exp(-j angle)
Complex turned_back(double angle) {
    return {std::cos(angle), -std::sin(angle)};
}

/// sin(x) / x
double sinc(double x) {
    return std::abs(x) < 1e-8 ? 1.0 : std::sin(x) / x;
}

/// 2 pi times the integral of J0(k s rho) rho over a disc's radius.
double far_disc(double radius_m, double k_sine) {
    const double x = k_sine * radius_m;
    const double jinc = x < 1e-6 ? 0.5 : std::cyl_bessel_j(1.0, x) / x;
    return 2.0 * pi * radius_m * radius_m * jinc;
}

}  // namespace

TransmittedField::TransmittedField(const Probe& probe, const std::optional<HeadMotion>& head,
                                   const TransmitEvent& event, const Medium& medium, double frequency_Hz)
    : soft_(probe.baffle == Baffle::soft), elevation_focus_m_(probe.elevation_focus_m) {
    const double omega = 2.0 * pi * frequency_Hz;
    gamma_ = path_constant(medium, frequency_Hz, probe.center_Hz) + Complex(0.0, omega / medium.sound_speed_m_s);
    wavenumber_ = gamma_.imag();
    if (head) {
        pose_ = head_pose(*head, event.head_angle_rad);
    }
    for (std::size_t e = 0; e < probe.elements.size(); ++e) {
        const Element& element = probe.elements[e];
        const double drive = event.weight[e] * element.gain;
        if (drive != 0.0) {
            const Vec3 lateral = Vec3::UnitY().cross(element.normal).normalized();
            sources_.push_back({element, lateral, element.normal.cross(lateral),
                                drive * turned_back(omega * (event.delay_s[e] + element.delay_s))});
        }
    }
}

double TransmittedField::wavelength_m() const {
    return 2.0 * pi / wavenumber_;
}

/// Phase by which a lens advances height y.
double TransmittedField::lens_phase(double y_m) const {
    return wavenumber_ * lens_delay_s(elevation_focus_m_, y_m, 1.0);
}

int TransmittedField::face_points(double slope, double half, double offset, double distance) const {
    return face_rules().side_points(wavenumber_, slope, half, offset, distance);
}

double TransmittedField::elevation_slope(double half_height, double y, double distance) const {
    return steepest_elevation_slope(elevation_focus_m_, half_height, y, distance);
}

/// Integral of B exp(-gamma R) / (2 pi R) over a rectangle, in metres.
Complex TransmittedField::rectangle(const Source& source, const Vec3& from_center) const {
    const double x = from_center.dot(source.lateral);
    const double y = from_center.dot(source.elevation);
    const double z = from_center.dot(source.element.normal);
    const double half_width = 0.5 * source.element.width_m;
    const double half_height = 0.5 * source.element.height_m;

    const double height_off = std::max(0.0, std::abs(y) - half_height);
    const double sine = (std::abs(x) + half_width) / std::hypot(std::abs(x) + half_width, height_off, z);
    const int across = face_points(sine, half_width, x, std::hypot(height_off, z));
    const double width_off = std::max(0.0, std::abs(x) - half_width);
    const double near = std::hypot(width_off, z);
    const double slope = std::max(elevation_slope(half_height, y, near),
                                  elevation_slope(half_height, y, std::hypot(std::abs(x) + half_width, z)));
    const int up = face_points(slope, half_height, y, near);
    const GaussLegendre& lateral = face_rules().rule(across);
    const GaussLegendre& elevation = face_rules().rule(up);

    const bool mirrored = y == 0.0;  // both halves of the height count the same
    const std::size_t first = mirrored ? static_cast<std::size_t>(up / 2) : 0;
    const double attenuation = gamma_.real();
    Complex sum;
    for (std::size_t j = first; j < elevation.node.size(); ++j) {
        const double height = half_height * elevation.node[j];
        const double advance = lens_phase(height);
        const double off = (y - height) * (y - height) + z * z;
        Complex row;
        for (std::size_t i = 0; i < lateral.node.size(); ++i) {
            const double along = x - half_width * lateral.node[i];
            const double path = std::sqrt(along * along + off);
            if (path == 0.0) {
                continue;  // on the face itself, where the integral exists and its rule does not
            }
            double size = lateral.weight[i] / path;
            if (attenuation != 0.0) {
                size *= std::exp(-attenuation * path);
            }
            if (soft_) {
                size *= z / path;
            }
            row += size * turned_back(wavenumber_ * path + advance);
        }
        const bool middle = mirrored && j == first && up % 2 == 1;
        sum += (mirrored && !middle ? 2.0 : 1.0) * elevation.weight[j] * row;
    }
    return sum * (half_width * half_height / (2.0 * pi));
}

Complex TransmittedField::at(const Vec3& point_m) const {
    const Vec3 point = pose_ ? pose_->to_head(point_m) : point_m;
    Complex sum;
    for (const Source& source : sources_) {
        const Element& element = source.element;
        const Vec3 from_center = point - element.center_m;
        if (element.is_ring()) {
            const double height = from_center.dot(element.normal);
            const double radius = (from_center - height * element.normal).norm();
            sum += source.drive * ring_response(element.inner_m, element.outer_m, radius, height, gamma_);
        } else {
            sum += source.drive * rectangle(source, from_center);
        }
    }
    return Complex(0.0, wavenumber_) * sum;
}

std::vector<double> TransmittedField::amplitudes(std::span<const Vec3> points_m) const {
    std::vector<double> result(points_m.size());
    for_each_in_parallel(
        points_m.size(), [&](std::size_t i) { result[i] = amplitude(points_m[i]); }, 32);
    return result;
}

/// Integral of B exp(j k direction . place) over a face about its own centre, lens included, in m^2.
Complex TransmittedField::far_face(const Source& source, const Vec3& direction) const {
    const Element& element = source.element;
    const double across = wavenumber_ * direction.dot(source.lateral);
    const double cosine = direction.dot(element.normal);
    if (element.is_ring()) {
        const double k_sine = wavenumber_ * std::sqrt(std::max(0.0, 1.0 - cosine * cosine));
        return far_disc(element.outer_m, k_sine) - far_disc(element.inner_m, k_sine);
    }
    const double up = wavenumber_ * direction.dot(source.elevation);
    const double half_height = 0.5 * element.height_m;
    const double slope = elevation_slope(half_height, 0.0, std::numeric_limits<double>::max()) +
                         std::abs(direction.dot(source.elevation));
    const GaussLegendre& rule = face_rules().rule(face_points(slope, half_height, 0.0, 1e3 * half_height));
    Complex sum;
    for (std::size_t j = 0; j < rule.node.size(); ++j) {
        const double height = half_height * rule.node[j];
        sum += half_height * rule.weight[j] * turned_back(lens_phase(height) - up * height);
    }
    return sum * element.width_m * sinc(0.5 * across * element.width_m) * (soft_ ? cosine : 1.0);
}

double TransmittedField::far_amplitude_m(const Vec3& in_room) const {
    const Vec3 direction = pose_ ? Vec3(in_room.dot(pose_->lateral), in_room.y(), in_room.dot(pose_->normal)) : in_room;
    Complex sum;
    for (const Source& source : sources_) {
        sum += source.drive * turned_back(-wavenumber_ * direction.dot(source.element.center_m)) *
               far_face(source, direction);
    }
    return std::abs(sum) * wavenumber_ / (2.0 * pi);
}

TransmitEvent unfocused(const Probe& probe, const std::optional<HeadMotion>& head, TransmitEvent event) {
    std::ranges::fill(event.delay_s, 0.0);
    event.kind = TransmitKind::plane;
    event.focus_m = Vec3::Constant(std::numeric_limits<double>::quiet_NaN());
    event.direction = head ? head_pose(*head, event.head_angle_rad).normal
                           : face_place(probe, face_lateral_m(probe, event.origin_m)).normal;
    return event;
}

}  // namespace echoloom
