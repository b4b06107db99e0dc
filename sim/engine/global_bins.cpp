#include "sim/engine/global_bins.h"

#include <fftw3.h>

#include <Eigen/Dense>
#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <complex>
#include <memory>
#include <numbers>
#include <type_traits>

#include "sim/engine/elements.h"
#include "sim/engine/propagation.h"
#include "sim/engine/quadrature.h"
#include "sim/engine/synthesis.h"

namespace echoloom {

namespace {

using Complex = std::complex<double>;
constexpr double tolerance = 1e-8;

struct PlanDeleter {
    void operator()(fftw_plan plan) const { fftw_destroy_plan(plan); }
};
using Plan = std::unique_ptr<std::remove_pointer_t<fftw_plan>, PlanDeleter>;

/// What one point of one face does to one scatterer: a delay, a path and an amplitude.
struct Ray {
    double delay_s;
    double path_m;
    double amplitude;
};

/// Points enough for the fastest that the phase turns along a length whose ends see a scatterer under `slope`.
GaussLegendre rule(double half_m, double slope, double wavenumber) {
    return gauss_legendre(std::min(points_for_phase(wavenumber * half_m * slope, 1e-6) + 6, max_face_points));
}

/// Steepest slope of a path along the elements' height.
double steepest(std::span<const Scatterer> scatterers, double half_height_m) {
    double steepest = 0.0;
    for (const Scatterer& s : scatterers) {
        const double away = std::abs(s.y_m) + half_height_m;
        steepest = std::max(steepest, away / std::hypot(away, s.z_m));
    }
    return steepest;
}

/// exp(-(gamma R + j 2 pi f t)) at every bin, added up over rays: by recurrence where gamma is proportional to
/// frequency.
void add_rays(std::span<const Ray> rays, const Medium& medium, double reference_Hz, double bin_Hz,
              std::span<Complex> out) {
    using std::numbers::pi;
    const bool straight = medium.attenuation_exponent == 1.0 && !medium.dispersive;
    std::vector<Complex> gamma(out.size());
    for (std::size_t k = 0; k < out.size(); ++k) {
        gamma[k] = path_constant(medium, static_cast<double>(k) * bin_Hz, reference_Hz);
    }
    for (const Ray& r : rays) {
        const Complex step =
            std::exp(-(straight ? gamma[1] : 0.0) * r.path_m - Complex(0.0, 2.0 * pi * bin_Hz * r.delay_s));
        Complex value = r.amplitude;
        for (std::size_t k = 0; k < out.size(); ++k) {
            out[k] += straight ? value : value * std::exp(-gamma[k] * r.path_m);
            value = {value.real() * step.real() - value.imag() * step.imag(),
                     value.real() * step.imag() + value.imag() * step.real()};
        }
    }
}

std::vector<Ray> rays(const Probe& probe, const Element& element, const Scatterer& s, const GaussLegendre& across,
                      const GaussLegendre& up, double c) {
    const Vec3 lateral = Vec3::UnitY().cross(element.normal).normalized();
    const Vec3 elevation = element.normal.cross(lateral);
    const double area = element.width_m * element.height_m;
    std::vector<Ray> out;
    for (std::size_t j = 0; j < up.node.size(); ++j) {
        const double y = up.node[j] * element.height_m / 2.0;
        for (std::size_t i = 0; i < across.node.size(); ++i) {
            const double x = across.node[i] * element.width_m / 2.0;
            const Vec3 offset = Vec3(s.x_m, s.y_m, s.z_m) - element.center_m - x * lateral - y * elevation;
            const double path = offset.norm();
            const double cosine = probe.baffle == Baffle::soft ? offset.dot(element.normal) / path : 1.0;
            out.push_back({path / c + lens_delay_s(probe.elevation_focus_m, y, c), path,
                           cosine * area * across.weight[i] * up.weight[j] / 4.0 / (2.0 * std::numbers::pi * path)});
        }
    }
    return out;
}

/// Latest time at which an echo can come, and as much again for slow tails to fade.
double record_s(std::span<const Scatterer> scatterers, const Probe& probe, const Scan& scan, double c) {
    double longest = 0.0;
    for (const Scatterer& s : scatterers) {
        for (const Element& e : probe.elements) {
            longest = std::max(longest, (Vec3(s.x_m, s.y_m, s.z_m) - e.center_m).norm() + e.width_m + e.height_m);
        }
    }
    return 2.0 * (2.0 * longest / c + static_cast<double>(scan.samples) / scan.sampling_rate_Hz);
}

}  // namespace

std::vector<float> simulate_by_global_bins(std::span<const Scatterer> scatterers, const Medium& medium,
                                           const Probe& probe, const Scan& scan) {
    using std::numbers::pi;
    const double c = medium.sound_speed_m_s;
    const double fs = scan.sampling_rate_Hz;
    const std::size_t length = std::max<std::size_t>(
        transform_length(static_cast<std::size_t>(record_s(scatterers, probe, scan, c) * fs)), 8192);
    const double bin_Hz = fs / static_cast<double>(length);
    const double highest_Hz = std::min(pulse_highest_frequency(probe.pulse, tolerance), fs / 2.0);
    const auto bins = std::min(static_cast<std::size_t>(highest_Hz / bin_Hz), length / 2);

    const auto elements = static_cast<Eigen::Index>(probe.elements.size());
    const auto count = static_cast<Eigen::Index>(scatterers.size());
    const auto events = static_cast<Eigen::Index>(scan.events.size());
    const Element& face = probe.elements.front();
    const GaussLegendre across = rule(face.width_m / 2.0, 1.0, 2.0 * pi * highest_Hz / c);
    const GaussLegendre up =
        rule(face.height_m / 2.0, steepest(scatterers, face.height_m / 2.0), 2.0 * pi * highest_Hz / c);
    std::vector<Complex> response(static_cast<std::size_t>(elements * count) *
                                  (bins + 1));  // [element, scatterer][bin]
#pragma omp parallel for schedule(dynamic)
    for (std::size_t n = 0; n < static_cast<std::size_t>(elements * count); ++n) {
        const Element& element = probe.elements[n / scatterers.size()];
        add_rays(rays(probe, element, scatterers[n % scatterers.size()], across, up, c), medium, probe.center_Hz,
                 bin_Hz, std::span(response).subspan(n * (bins + 1), bins + 1));
    }

    const std::size_t rows = scan.events.size() * scan.channels();
    std::vector<Complex> spectra(rows * (length / 2 + 1));
    PulseBand pulse{probe.pulse};
#pragma omp parallel for schedule(dynamic)
    for (std::size_t k = 0; k <= bins; ++k) {
        const double f = static_cast<double>(k) * bin_Hz;
        Eigen::MatrixXcd g(elements, count);
        for (Eigen::Index e = 0; e < elements; ++e) {
            const Element& element = probe.elements[static_cast<std::size_t>(e)];
            const Complex fault = std::polar(element.gain, -2.0 * pi * f * element.delay_s);
            for (Eigen::Index s = 0; s < count; ++s) {
                g(e, s) = fault * response[static_cast<std::size_t>(e * count + s) * (bins + 1) + k];
            }
        }
        Eigen::MatrixXcd firing(events, elements);
        for (Eigen::Index v = 0; v < events; ++v) {
            const TransmitEvent& event = scan.events[static_cast<std::size_t>(v)];
            for (Eigen::Index e = 0; e < elements; ++e) {
                const auto at = static_cast<std::size_t>(e);
                firing(v, e) = std::polar(event.weight[at], -2.0 * pi * f * (event.delay_s[at] - event.start_time_s));
            }
        }
        Eigen::MatrixXcd field = firing * g;  // [event, scatterer]
        for (Eigen::Index s = 0; s < count; ++s) {
            field.col(s) *= scatterers[static_cast<std::size_t>(s)].strength_m;
        }
        const Eigen::MatrixXcd echo = field * g.transpose();  // [event, element]
        for (std::size_t row = 0; row < rows; ++row) {
            const std::size_t v = row / scan.channels();
            const int receiver = scan.events[v].receivers[row % scan.channels()];
            spectra[row * (length / 2 + 1) + k] =
                pulse.spectrum(f) * bin_Hz * echo(static_cast<Eigen::Index>(v), receiver);
        }
    }
    std::vector<double> trace(length);
    std::vector<Complex> work(length / 2 + 1);
    const Plan plan(fftw_plan_dft_c2r_1d(static_cast<int>(length), reinterpret_cast<fftw_complex*>(work.data()),
                                         trace.data(), FFTW_ESTIMATE));
    std::vector<float> out;
    for (std::size_t row = 0; row < rows; ++row) {
        std::copy_n(spectra.begin() + static_cast<std::ptrdiff_t>(row * work.size()), work.size(), work.begin());
        fftw_execute(plan.get());
        std::transform(trace.begin(), trace.begin() + static_cast<std::ptrdiff_t>(scan.samples),
                       std::back_inserter(out), [](double sample) { return static_cast<float>(sample); });
    }
    return out;
}

}  // namespace echoloom
