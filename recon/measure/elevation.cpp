#include "recon/measure/elevation.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace echoloom {
namespace {

constexpr int strips = 48;
constexpr int wire_strips = 24;
constexpr int point_rows = 33;
constexpr int wire_rows = 17;  // smoother: the wire averages over the beam

/// By how much the lens brings the strip at y forward, in metres of path.
double lens_advance(const Probe& probe, double y) {
    const double focus = probe.elevation_focus_m;
    return std::isfinite(focus) ? std::hypot(focus, y) - focus : 0.0;
}

double height_of(const Probe& probe) {
    return probe.elements.front().height_m;
}

/// C(u) - j S(u), the Fresnel integrals of exp(-j pi t^2 / 2) from 0 to u.
Complex fresnel(double u) {
    const double x = std::abs(u);
    const double f = (1.0 + 0.926 * x) / (2.0 + x * (1.792 + x * 3.104));
    const double g = 1.0 / (2.0 + x * (4.142 + x * (3.492 + x * 6.670)));
    const double angle = 0.5 * std::numbers::pi * x * x;
    const double cosine = 0.5 + f * std::sin(angle) - g * std::cos(angle);
    const double sine = 0.5 - f * std::cos(angle) - g * std::sin(angle);
    return std::copysign(1.0, u) * Complex(cosine, -sine);
}

}  // namespace

Complex point_elevation(const Probe& probe, double sound_speed_m_s, double frequency_Hz, double distance_m,
                        double elevation_m) {
    const double wave_number = 2.0 * std::numbers::pi * frequency_Hz / sound_speed_m_s;
    Complex sum = 0.0;
    for (int n = 0; n < strips; ++n) {
        const double y = height_of(probe) * ((n + 0.5) / strips - 0.5);
        const double extra = std::hypot(distance_m, elevation_m - y) - distance_m - lens_advance(probe, y);
        sum += std::polar(1.0 / strips, -wave_number * extra);
    }
    return sum;
}

Complex wire_elevation(const Probe& probe, double sound_speed_m_s, double frequency_Hz, double distance_m,
                       double length_m) {
    const double wave_number = 2.0 * std::numbers::pi * frequency_Hz / sound_speed_m_s;
    const auto place = [&](int n) { return height_of(probe) * ((n + 0.5) / wire_strips - 0.5); };
    std::array<double, wire_strips> advance{};
    for (int n = 0; n < wire_strips; ++n) advance[static_cast<std::size_t>(n)] = lens_advance(probe, place(n));
    // The zone depends on the middle of a pair alone: 2 * wire_strips - 1 of them.
    const double scale = std::sqrt(2.0 * wave_number / (std::numbers::pi * distance_m));
    std::array<Complex, 2 * wire_strips - 1> zone{};
    for (int n = 0; n < 2 * wire_strips - 1; ++n) {
        const double middle = height_of(probe) * ((n + 1.0) / (2.0 * wire_strips) - 0.5);
        zone[static_cast<std::size_t>(n)] =
            (fresnel(scale * (0.5 * length_m - middle)) + fresnel(scale * (0.5 * length_m + middle))) / scale;
    }
    Complex sum = 0.0;
    for (int first = 0; first < wire_strips; ++first) {
        for (int second = 0; second <= first; ++second) {
            const double apart = 0.5 * (place(first) - place(second));
            const double extra = 2.0 * (std::hypot(distance_m, apart) - distance_m) -
                                 advance[static_cast<std::size_t>(first)] - advance[static_cast<std::size_t>(second)];
            const Complex wave = std::polar(first == second ? 1.0 : 2.0, -wave_number * extra);
            sum += product(wave, zone[static_cast<std::size_t>(first + second)]);
        }
    }
    return sum / static_cast<double>(wire_strips * wire_strips);
}

ElevationTable::ElevationTable(const Probe& probe, const Medium& medium, double wire_length_m,
                               const ElevationTerms& terms, const Frequencies& frequencies, double least_distance_m,
                               double most_distance_m)
    : least_m_(least_distance_m),
      rows_(wire_length_m > 0.0 ? wire_rows : point_rows, Spectrum(frequencies.count, 1.0)) {
    step_m_ = std::max(most_distance_m - least_distance_m, 1e-6) / static_cast<double>(rows_.size() - 1);
    for (std::size_t n = 0; n < frequencies.count; ++n) {
        const double f = frequencies.at(n);
        const double attenuation = terms.attenuation ? medium.attenuation_Np_m(f) : 0.0;
        for (std::size_t row = 0; row < rows_.size(); ++row) {
            const double distance = least_m_ + static_cast<double>(row) * step_m_;
            Complex factor = 1.0;
            if (terms.height && wire_length_m == 0.0) {
                factor = point_elevation(probe, medium.sound_speed_m_s, f, distance);
            } else if (wire_length_m > 0.0) {
                factor = std::sqrt(wire_elevation(probe, medium.sound_speed_m_s, f, distance, wire_length_m));
                // of the two square roots, the one that continues the row before
                const Complex before = row > 0 ? rows_[row - 1][n] : factor;
                if ((factor * std::conj(before)).real() < 0.0) factor = -factor;
            }
            rows_[row][n] = factor * std::exp(-attenuation * distance);
        }
    }
}

ElevationTable::Rows ElevationTable::at(double distance_m) const {
    const double place = std::clamp((distance_m - least_m_) / step_m_, 0.0, static_cast<double>(rows_.size() - 1));
    const auto low = std::min(static_cast<std::size_t>(place), rows_.size() - 2);
    return {rows_[low].data(), rows_[low + 1].data(), place - static_cast<double>(low)};
}

}  // namespace echoloom
