#include "sim/engine/face_rules.h"

#include <algorithm>
#include <cmath>
#include <complex>

#include "sim/engine/face_sampling.h"

namespace echoloom {

namespace {

constexpr double min_phase = 0.1;
constexpr double phase_ratio = 1.02;

}  // namespace

FaceRules::FaceRules(double tolerance) : tolerance_(tolerance), rules_(max_face_points + 1) {
    int points = 0;
    for (double phase = min_phase; points <= max_face_points; phase *= phase_ratio) {
        points = points_for_phase(phase, tolerance);
        points_.push_back(points);
    }
    for (int count = 1; count <= max_face_points; ++count) {
        if (rounded_points(count) == count) {
            rules_[static_cast<std::size_t>(count)] = kept_gauss_legendre(count);
        }
    }
}

/// For a phase (in radians) over half a face.
int FaceRules::for_phase(double phase) const {
    const double entry = std::ceil(std::log(std::max(phase / min_phase, 1.0)) / std::log(phase_ratio));
    return points_[std::min(static_cast<std::size_t>(entry), points_.size() - 1)];
}

int FaceRules::side_points(double wavenumber, double slope, double half, double offset, double distance) const {
    const int phase = for_phase(wavenumber * half * slope);
    // The distance has a branch point here in units of the half side, and the rule converges in the ellipse about
    // (-1, 1) that goes through it.
    const std::complex<double> branch(offset / half, distance / half);
    const std::complex<double> root = std::sqrt(branch * branch - 1.0);
    const double size = std::max(std::abs(branch + root), std::abs(branch - root));
    const double near = std::min<double>(-std::log(tolerance_) / (2.0 * std::log(size)), max_face_points);
    return rounded_points(std::max(phase + 2, static_cast<int>(std::ceil(near))));
}

double steepest_elevation_slope(double elevation_focus_m, double half_height, double y, double distance) {
    double steepest = 0.0;
    for (int i = -2; i <= 2; ++i) {
        const double height = half_height * i / 2.0;
        const double lens = std::isfinite(elevation_focus_m) ? height / std::hypot(height, elevation_focus_m) : 0.0;
        const double away = height - y;
        steepest = std::max(steepest, std::abs(away / std::hypot(away, distance) - lens));
    }
    return steepest;
}

}  // namespace echoloom
