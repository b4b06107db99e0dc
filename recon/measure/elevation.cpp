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
                        double elevation_m, double row_m) {
    const double wave_number = 2.0 * std::numbers::pi * frequency_Hz / sound_speed_m_s;
    Complex sum = 0.0;
    for (int n = 0; n < strips; ++n) {
        const double y = row_m + height_of(probe) * ((n + 0.5) / strips - 0.5);
        const double path = std::hypot(distance_m, elevation_m - y);
        sum += std::polar(distance_m / path / strips, -wave_number * (path - distance_m - lens_advance(probe, y)));
    }
    return sum;
}

Complex wire_elevation(const Probe& probe, double sound_speed_m_s, double frequency_Hz, double distance_m,
                       double length_m, double row_out_m, double row_back_m) {
    const double wave_number = 2.0 * std::numbers::pi * frequency_Hz / sound_speed_m_s;
    const auto place = [&](int n) { return height_of(probe) * ((n + 0.5) / wire_strips - 0.5); };
    // The zone depends on the middle of a pair alone: 2 * wire_strips - 1 of them.
    const double scale = std::sqrt(2.0 * wave_number / (std::numbers::pi * distance_m));
    std::array<Complex, 2 * wire_strips - 1> zone{};
    for (int n = 0; n < 2 * wire_strips - 1; ++n) {
        const double middle =
            0.5 * (row_out_m + row_back_m) + height_of(probe) * ((n + 1.0) / (2.0 * wire_strips) - 0.5);
        zone[static_cast<std::size_t>(n)] =
            (fresnel(scale * (0.5 * length_m - middle)) + fresnel(scale * (0.5 * length_m + middle))) / scale;
    }
    Complex sum = 0.0;
    for (int first = 0; first < wire_strips; ++first) {
        const double out = row_out_m + place(first);
        // Within one row, a pair of strips counts the same in either order.
        const bool same = row_out_m == row_back_m;
        for (int second = 0; second < (same ? first + 1 : wire_strips); ++second) {
            const double back = row_back_m + place(second);
            const double extra = 2.0 * (std::hypot(distance_m, 0.5 * (out - back)) - distance_m) -
                                 lens_advance(probe, out) - lens_advance(probe, back);
            const Complex wave = std::polar(same && second < first ? 2.0 : 1.0, -wave_number * extra);
            sum += product(wave, zone[static_cast<std::size_t>(first + second)]);
        }
    }
    return sum / static_cast<double>(wire_strips * wire_strips);
}

namespace {

/// point_elevation at all frequencies.
Spectrum point_factors(const Probe& probe, double speed, const Frequencies& frequencies, double distance,
                       const ElevationPlace& place) {
    Spectrum sum(frequencies.count);
    for (int n = 0; n < strips; ++n) {
        const double y = place.row_m + height_of(probe) * ((n + 0.5) / strips - 0.5);
        const double path = std::hypot(distance, place.elevation_m - y);
        const double weight = distance / path / strips;
        Rotation wave(frequencies, -(path - distance - lens_advance(probe, y)) / speed);
        for (Complex& value : sum) value += weight * wave.next();
    }
    return sum;
}

/// The square root of a wire's two-way factor; of the two roots, the one continuous with that of the previous distance.
Spectrum wire_factors(const Probe& probe, double speed, const Frequencies& frequencies, double distance,
                      const ElevationPlace& place, const Spectrum* before) {
    Spectrum factors(frequencies.count);
    for (std::size_t n = 0; n < frequencies.count; ++n) {
        factors[n] = std::sqrt(
            wire_elevation(probe, speed, frequencies.at(n), distance, place.wire_length_m, place.row_m, place.row_m));
        if (before && (factors[n] * std::conj((*before)[n])).real() < 0.0) factors[n] = -factors[n];
    }
    return factors;
}

}  // namespace

ElevationTable::ElevationTable(const Probe& probe, const Medium& medium, const ElevationPlace& place,
                               const ElevationTerms& terms, const Frequencies& frequencies, double min_distance_m,
                               double max_distance_m)
    : min_m_(min_distance_m) {
    const bool wire = place.wire_length_m > 0.0;
    const int rows = wire ? wire_rows : point_rows;
    step_m_ = std::max(max_distance_m - min_distance_m, 1e-6) / (rows - 1);
    for (int row = 0; row < rows; ++row) {
        const double distance = min_m_ + row * step_m_;
        const double speed = medium.sound_speed_m_s;
        if (wire) {
            rows_.push_back(
                wire_factors(probe, speed, frequencies, distance, place, rows_.empty() ? nullptr : &rows_.back()));
        } else {
            rows_.push_back(terms.height ? point_factors(probe, speed, frequencies, distance, place)
                                         : Spectrum(frequencies.count, 1.0));
        }
    }
    if (!terms.attenuation) return;
    for (std::size_t n = 0; n < frequencies.count; ++n) {
        const double attenuation = medium.attenuation_Np_m(frequencies.at(n));
        for (int row = 0; row < rows; ++row) {
            rows_[static_cast<std::size_t>(row)][n] *= std::exp(-attenuation * (min_m_ + row * step_m_));
        }
    }
}

ElevationTable::Rows ElevationTable::at(double distance_m) const {
    const double place = std::clamp((distance_m - min_m_) / step_m_, 0.0, static_cast<double>(rows_.size() - 1));
    const auto low = std::min(static_cast<std::size_t>(place), rows_.size() - 2);
    return {rows_[low].data(), rows_[low + 1].data(), place - static_cast<double>(low)};
}

}  // namespace echoloom
