#include "recon/measure/ring_wave.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

/// Nodes per period of the phase between rim and centre, at the highest frequency.
constexpr double nodes_per_period = 12.0;
/// Heights farther apart than this part of the distance are interpolated between three.
constexpr double one_height = 1e-4;

/// Steps along half an edge: the trapezoidal rule on a periodic integrand converges once they hold its phase, and then
/// as fast as the nearest branch point, at R = 0, allows.
int steps_along(double edge_m, const RingPlace& place, double max_wavenumber) {
    const double twice = 2.0 * edge_m * place.radius_m;
    if (!(twice > 0.0)) return 1;
    const double phase = max_wavenumber * 0.5 * twice / place.distance_m();
    const double z = place.height_m;
    const double strip = std::acosh((edge_m * edge_m + place.radius_m * place.radius_m + z * z) / twice);
    return static_cast<int>(std::clamp(1.2 * phase + 18.0 / std::max(strip, 1e-3) + 16.0, 16.0, 20000.0));
}

/// Adds weight exp(-gamma path) exp(+j k distance). The attenuation over the difference of the two is small and taken
/// to its third power; that over the distance is left to the caller.
void add_wave(Spectrum& sum, const Frequencies& frequencies, const std::vector<double>& attenuation, double weight,
              double extra_m, double speed) {
    Rotation wave(frequencies, -extra_m / speed);
    for (std::size_t n = 0; n < sum.size(); ++n) {
        const double x = attenuation[n] * extra_m;
        sum[n] += weight * (1.0 - x * (1.0 - x * (0.5 - x / 6.0))) * wave.next();
    }
}

/// Adds sign * gamma H of a disc.
void add_disc(Spectrum& sum, const Frequencies& frequencies, const std::vector<double>& attenuation, double edge_m,
              const RingPlace& place, double speed, double sign) {
    const double max_frequency = frequencies.at(frequencies.count - 1);
    const int steps = steps_along(edge_m, place, 2.0 * std::numbers::pi * max_frequency / speed);
    const double distance = place.distance_m();
    double direct = 0.0;
    for (int n = 0; n <= steps; ++n) {
        const double part = (n == 0 || n == steps ? 0.5 : 1.0) / steps;
        const double cosine = std::cos(std::numbers::pi * n / steps);
        const double d2 = edge_m * edge_m + place.radius_m * (place.radius_m - 2.0 * edge_m * cosine);
        // At the edge itself the two waves coincide.
        if (!(d2 > 1e-24)) continue;
        const double weight = part * edge_m * (edge_m - place.radius_m * cosine) / d2;
        direct += weight;
        const double extra = std::sqrt(place.height_m * place.height_m + d2) - distance;
        add_wave(sum, frequencies, attenuation, -sign * weight, extra, speed);
    }
    add_wave(sum, frequencies, attenuation, sign * direct, place.height_m - distance, speed);
}

}  // namespace

double RingPlace::distance_m() const {
    return std::hypot(radius_m, height_m);
}

RingPlace ring_place(const Element& ring, const Vec3& point_m) {
    const Vec3 ray = point_m - ring.center_m;
    const double height = ray.dot(ring.normal);
    return {(ray - height * ring.normal).norm(), std::abs(height)};
}

Spectrum ring_response_at(const Element& ring, const Medium& medium, bool attenuated, const Frequencies& frequencies,
                          const RingPlace& place) {
    std::vector<double> attenuation(frequencies.count, 0.0);
    for (std::size_t n = 0; attenuated && n < frequencies.count; ++n) {
        attenuation[n] = medium.attenuation_Np_m(frequencies.at(n));
    }
    const double speed = medium.sound_speed_m_s;
    Spectrum sum(frequencies.count);
    add_disc(sum, frequencies, attenuation, ring.outer_m, place, speed, 1.0);
    if (ring.inner_m > 0.0) add_disc(sum, frequencies, attenuation, ring.inner_m, place, speed, -1.0);
    for (std::size_t n = 0; n < frequencies.count; ++n) {
        const double wavenumber = 2.0 * std::numbers::pi * frequencies.at(n) / speed;
        sum[n] *= std::exp(-attenuation[n] * place.distance_m()) / Complex(attenuation[n], wavenumber);
    }
    return sum;
}

RingTable::RingTable(const Probe& probe, const Medium& medium, bool attenuated, const Frequencies& frequencies,
                     const Range& range)
    : frequencies_(frequencies), min_height_m_(range.min_height_m) {
    double rim = 0.0;
    for (const Element& ring : probe.elements) rim = std::max(rim, ring.outer_m);
    const double shortest = medium.sound_speed_m_s / frequencies.at(frequencies.count - 1);
    const double nearest = std::max(range.min_height_m, 0.1 * rim);
    const double wanted = shortest * nearest / rim / nodes_per_period;
    // One more on the far side for the cubic.
    radii_ = static_cast<std::size_t>(std::ceil(std::max(range.max_radius_m, wanted) / wanted)) + 2;
    radius_step_m_ = wanted;
    const double span = range.max_height_m - range.min_height_m;
    heights_ = span > one_height * range.max_height_m ? 3 : 1;
    height_step_m_ = heights_ > 1 ? 0.5 * span : 1.0;
    for (const Element& ring : probe.elements) {
        for (std::size_t h = 0; h < heights_; ++h) {
            for (std::size_t r = 0; r < radii_; ++r) {
                const RingPlace place{static_cast<double>(r) * radius_step_m_,
                                      min_height_m_ + static_cast<double>(h) * height_step_m_};
                nodes_.push_back(ring_response_at(ring, medium, attenuated, frequencies, place));
            }
        }
    }
}

void RingTable::add(Spectrum& sum, std::size_t ring, const RingPlace& place, double weight, double time_s) const {
    const double index = std::min(place.radius_m / radius_step_m_, static_cast<double>(radii_) - 2.0);
    const auto low = std::min(static_cast<std::size_t>(index), radii_ - 3);
    const double t = index - static_cast<double>(low);
    const std::array<double, 4> radial{-t * (t - 1.0) * (t - 2.0) / 6.0, (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
                                       -(t + 1.0) * t * (t - 2.0) / 2.0, (t + 1.0) * t * (t - 1.0) / 6.0};
    // The response is even about the axis.
    const std::array<std::size_t, 4> at{low == 0 ? 1 : low - 1, low, low + 1, low + 2};
    const double u = heights_ > 1 ? std::clamp((place.height_m - min_height_m_) / height_step_m_, 0.0, 2.0) : 0.0;
    const std::array<double, 3> vertical{0.5 * (u - 1.0) * (u - 2.0), -u * (u - 2.0), 0.5 * u * (u - 1.0)};
    Rotation wave(frequencies_, time_s);
    std::array<const Complex*, 12> rows{};
    std::array<double, 12> weights{};
    const std::size_t used = 4 * heights_;
    for (std::size_t h = 0; h < heights_; ++h) {
        for (std::size_t n = 0; n < 4; ++n) {
            rows[4 * h + n] = node(ring, h, at[n]).data();
            weights[4 * h + n] = weight * radial[n] * (heights_ > 1 ? vertical[h] : 1.0);
        }
    }
    for (std::size_t f = 0; f < sum.size(); ++f) {
        Complex value = 0.0;
        for (std::size_t n = 0; n < used; ++n) value += weights[n] * rows[n][f];
        sum[f] += product(value, wave.next());
    }
}

}  // namespace echoloom
