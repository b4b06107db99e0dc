#include "recon/measure/theory.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "recon/measure/aperture_sines.h"
#include "recon/measure/point_view.h"

namespace echoloom {
namespace {

/// Where the product of two patterns first falls to `level` of its value at zero, going up from zero. `scale` is a
/// phase per place well inside the main lobe's half width times 16. Infinite where nothing makes a lobe of it, as with
/// one element on either side.
double half_width(std::span<const Contribution> transmit, std::span<const Contribution> receive, double level,
                  double scale) {
    const auto product = [&](double u) { return pattern(transmit, u) * pattern(receive, u); };
    const double threshold = level * product(0.0);
    double inside = 0.0;
    double outside = scale / 16.0;
    while (product(outside) >= threshold) {
        inside = outside;
        outside += scale / 16.0;
        if (outside > 64.0 * scale) return std::numeric_limits<double>::infinity();
    }
    for (int halving = 0; halving < 60; ++halving) {
        const double middle = 0.5 * (inside + outside);
        (product(middle) >= threshold ? inside : outside) = middle;
    }
    return 0.5 * (inside + outside);
}

std::vector<Contribution> centred(std::span<const double> weights) {
    std::vector<Contribution> aperture;
    const double middle = 0.5 * (static_cast<double>(weights.size()) - 1.0);
    for (std::size_t n = 0; n < weights.size(); ++n) aperture.push_back({static_cast<double>(n) - middle, weights[n]});
    return aperture;
}

}  // namespace

double width_constant(std::span<const double> transmit, std::span<const double> receive, double level) {
    const std::vector<double> one{1.0};
    const auto first = centred(transmit);
    const auto second = centred(receive.empty() ? std::span<const double>(one) : receive);
    const auto count = static_cast<double>(std::max(first.size(), second.size()));
    // phase per pitch psi = 2 pi u / count at an offset of u lambda z / (count pitch)
    const double half = half_width(first, second, level, 2.0 * std::numbers::pi / count);
    return 2.0 * half * count / (2.0 * std::numbers::pi);
}

double two_way_constant(const Window& window, int count) {
    const auto weights = window_at_centers(window, count);
    return width_constant(weights, weights, 0.5);
}

double one_way_constant(const Window& window, int count) {
    return width_constant(window_at_centers(window, count), {}, 0.5);
}

double axial_theory_m(const Probe& probe, double sound_speed_m_s, double level) {
    const double half_amplitude =
        2.0 * std::numbers::ln2 / std::numbers::pi * sound_speed_m_s / (probe.bandwidth_fraction * probe.center_Hz);
    return half_amplitude * std::sqrt(-std::log2(level));
}

double lateral_theory_m(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m, double level) {
    const PointView view = view_of(info, recipe, point_m);
    const auto transmit = transmit_sines(info, recipe, view);
    const auto receive = receive_sines(info, recipe, view);
    double extent = 0.0;
    for (const auto* aperture : {&transmit, &receive}) {
        if (aperture->empty()) return std::numeric_limits<double>::infinity();
        extent = std::max(extent, extent_of(*aperture));
    }
    const double wave_number = 2.0 * std::numbers::pi / info.probe.wavelength_m(info.medium.sound_speed_m_s);
    if (!(extent > 0.0)) return std::numeric_limits<double>::infinity();
    const double half = half_width(transmit, receive, level, 2.0 * std::numbers::pi / extent);
    return 2.0 * half / wave_number;
}

}  // namespace echoloom
