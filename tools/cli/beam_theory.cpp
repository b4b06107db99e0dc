// A beam against angle by theory, from the weights of the elements alone.

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include "tools/cli/beam.h"

namespace echoloom {

namespace {

using std::numbers::pi;

/// 2 J1(x) / x
double airy(double x) {
    return std::abs(x) < 1e-6 ? 1.0 : 2.0 * std::cyl_bessel_j(1.0, std::abs(x)) / std::abs(x);
}

/// Far field of weighted rings: each the difference of two discs, which count by their area.
double ring_pattern(const Beam& beam, const ElementDrive& drive, double angle_rad) {
    const double k_sine = 2.0 * pi / beam.theory.wavelength_m * std::sin(angle_rad - beam.theory.steer_rad);
    double sum = 0.0;
    for (std::size_t e = 0; e < beam.elements.size(); ++e) {
        const Element& ring = beam.elements[e];
        sum += drive.weight[e] * (ring.outer_m * ring.outer_m * airy(k_sine * ring.outer_m) -
                                  ring.inner_m * ring.inner_m * airy(k_sine * ring.inner_m));
    }
    return std::abs(sum);
}

/// Array factor times element factor.
double row_pattern(const Beam& beam, const ElementDrive& drive, double angle_rad) {
    const bool upright = beam.view.plane == BeamPlane::elevation;
    const double difference = std::sin(angle_rad) - (upright ? 0.0 : std::sin(beam.theory.steer_rad));
    std::complex<double> sum;
    for (std::size_t e = 0; e < beam.elements.size(); ++e) {
        const Vec3& center = beam.elements[e].center_m;
        sum += drive.weight[e] *
               std::polar(1.0, 2.0 * pi / beam.theory.wavelength_m * (upright ? center.y() : center.x()) * difference);
    }
    return std::abs(sum) * element_factor(beam.theory, angle_rad);
}

}  // namespace

std::optional<BeamPattern> theory_pattern(const Beam& beam, const BeamPattern& angles) {
    if (beam.face_radius_m > 0.0 && beam.view.plane != BeamPlane::elevation) {
        return std::nullopt;
    }
    BeamPattern pattern = angles;
    const bool rings = beam.elements.front().is_ring();
    for (std::size_t i = 0; i < angles.angle_rad.size(); ++i) {
        double amplitude = 1.0;
        for (const ElementDrive& drive : beam.drives) {
            amplitude *=
                rings ? ring_pattern(beam, drive, angles.angle_rad[i]) : row_pattern(beam, drive, angles.angle_rad[i]);
        }
        pattern.amplitude[i] = amplitude;
    }
    find_main_lobe(pattern, beam.view.plane == BeamPlane::elevation ? 0.0 : beam.theory.steer_rad,
                   beam.theory.wavelength_m / beam.theory.aperture_m);
    return pattern;
}

}  // namespace echoloom
