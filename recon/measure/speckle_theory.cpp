#include "recon/measure/speckle_theory.h"

#include <cmath>
#include <complex>
#include <numbers>
#include <vector>

#include "recon/measure/aperture_sines.h"
#include "recon/measure/point_view.h"
#include "recon/measure/rayleigh.h"
#include "recon/measure/theory.h"

namespace echoloom {
namespace {

/// The response has this many samples to its theoretical width; the covariance is integrated over this many widths, and
/// the response is followed over three times as many.
constexpr int samples_per_width = 8;
constexpr double covariance_widths = 3.0;
constexpr double response_widths = 9.0;

struct Apertures {
    std::vector<Contribution> transmit, receive;
    double wavenumber = 0.0;
    bool empty() const { return transmit.empty() || receive.empty(); }
};

Apertures apertures_at(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m) {
    const PointView view = view_of(info, recipe, point_m);
    return {transmit_sines(info, recipe, view), receive_sines(info, recipe, view),
            2.0 * std::numbers::pi / info.probe.wavelength_m(info.medium.sound_speed_m_s)};
}

}  // namespace

Profile pattern_theory(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m, double reach_m,
                       double step_m) {
    Profile profile;
    const Apertures apertures = apertures_at(info, recipe, point_m);
    if (apertures.empty()) return profile;
    const auto half = static_cast<int>(std::ceil(reach_m / step_m));
    for (int n = -half; n <= half; ++n) {
        const double phase = apertures.wavenumber * n * step_m;
        profile.position_m.push_back(n * step_m);
        profile.amplitude.push_back(pattern(apertures.transmit, phase) * pattern(apertures.receive, phase));
    }
    return profile;
}

std::optional<double> lateral_cell_m(const RecordingInfo& info, const Recipe& recipe, const Vec3& point_m) {
    const Apertures apertures = apertures_at(info, recipe, point_m);
    const double width = lateral_theory_m(info, recipe, point_m, 0.5);
    if (apertures.empty() || !std::isfinite(width)) return std::nullopt;
    const double step = width / samples_per_width;
    const auto half = static_cast<std::ptrdiff_t>(std::ceil(response_widths * width / step));
    std::vector<std::complex<double>> response;
    for (std::ptrdiff_t n = -half; n <= half; ++n) {
        const double phase = apertures.wavenumber * static_cast<double>(n) * step;
        response.push_back(complex_pattern(apertures.transmit, phase) * complex_pattern(apertures.receive, phase));
    }
    const auto correlation = [&](std::size_t shift) {
        std::complex<double> sum = 0.0;
        for (std::size_t n = shift; n < response.size(); ++n) sum += response[n] * std::conj(response[n - shift]);
        return sum;
    };
    const double energy = correlation(0).real();
    double integral = 0.5;
    const auto shifts = static_cast<std::size_t>(std::lround(covariance_widths * width / step));
    for (std::size_t shift = 1; shift <= shifts; ++shift) {
        const double covariance = envelope_covariance(std::norm(correlation(shift)) / (energy * energy));
        integral += shift == shifts ? 0.5 * covariance : covariance;
    }
    return 2.0 * step * integral;
}

double axial_cell_m(const Probe& probe, double sound_speed_m_s) {
    // |rho|^2 = exp(-dz^2 / (2 s^2)) for an envelope exp(-z^2 / (2 s^2)); the integral of the covariance is 2.4301 s,
    // and s = c / (4 pi sigma_f) with sigma_f = B f0 / 2.354820.
    return 0.45537 * sound_speed_m_s / (probe.bandwidth_fraction * probe.center_Hz);
}

}  // namespace echoloom
