#include "sim/engine/ring_response.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace echoloom {

namespace {

/// The edge of a disc seen from a point.
struct Edge {
    double a;        ///< radius
    double r;        ///< of the point
    double z;        ///< its height
    double gap;      ///< |a - r|
    double nearest;  ///< distance of the edge

    Edge(double a_m, double r_m, double z_m)
        : a(a_m), r(r_m), z(z_m), gap(std::abs(a_m - r_m)), nearest(std::hypot(z_m, gap)) {}

    bool on_rim() const { return gap < 1e-9 * a; }
    double side() const { return on_rim() ? 0.0 : (r < a ? 1.0 : -1.0); }  ///< +1 under the disc
};

/// Intervals of the trapezoidal rule on [0, pi].
int interval_count(const Edge& edge, double wavenumber, double tolerance) {
    const double farthest = std::hypot(edge.z, edge.a + edge.r);
    const double log_tolerance = -std::log(tolerance);
    // exp(-j k R) over the edge is like exp(j b cos phi), whose harmonics die away beyond b; 2 M harmonics alias.
    const double b = 0.5 * wavenumber * (farthest - edge.nearest);
    double twice = b + 0.8 * std::pow(log_tolerance, 2.0 / 3.0) * std::cbrt(b + 1.0) + 2.0;
    // R has a branch point off the real axis, close to it where the point is close to the edge.
    const double branch = std::acosh((edge.z * edge.z + edge.a * edge.a + edge.r * edge.r) / (2.0 * edge.a * edge.r));
    twice = std::max(twice, log_tolerance / std::max(branch, 1e-3));
    // What edge_terms leaves of the pole near r = a: a Lorentzian of second order in 1 - cos phi.
    const double slope = wavenumber * edge.a * edge.r / edge.nearest;
    const double narrow = edge.gap / std::sqrt(edge.a * edge.r);
    const auto left = [&](double intervals_twice) {
        return 0.25 * slope * slope * std::pow(narrow, 4.0) * std::exp(-intervals_twice * narrow);
    };
    while (left(twice) > tolerance) {
        twice *= 1.2;
    }
    return static_cast<int>(std::ceil(0.5 * twice));
}

/// Appends `sign` times the edge integral of a disc. Near r = a its kernel has a pole close to the real axis; but the
/// pole's part, (a^2 - r^2) / (a^2 + r^2 - 2 a r cos phi), and its product with 1 - cos phi have known integrals, so
/// that the rule's error on the first two terms of exp(-gamma R) about phi = 0 is put right exactly.
void edge_terms(const Edge& edge, double sign, double wavenumber, double tolerance, RingTerms& out) {
    if (edge.r < 1e-9 * edge.a) {
        out.plain.push_back({-sign, std::hypot(edge.z, edge.a)});
        return;
    }
    const int intervals = interval_count(edge, wavenumber, tolerance);
    const double numerator = edge.on_rim() ? 0.0 : (edge.a - edge.r) * (edge.a + edge.r);
    const double twice_ar = 2.0 * edge.a * edge.r;
    double pole_mean = 0.0;
    double pole_slope_mean = 0.0;
    // cos(q pi / intervals) by Chebyshev's recurrence.
    const double first_cosine = std::cos(std::numbers::pi / intervals);
    double previous = first_cosine;
    double cosine = 1.0;
    for (int q = 0; q <= intervals; ++q) {
        const double one_less_cosine = 1.0 - cosine;
        const double following = 2.0 * first_cosine * cosine - previous;
        previous = cosine;
        cosine = following;
        const double share = (q == 0 || q == intervals ? 0.5 : 1.0) / intervals;
        const double across = edge.gap * edge.gap + twice_ar * one_less_cosine;  // a^2 + r^2 - 2 a r cos phi
        const double pole = numerator == 0.0 ? 0.0 : numerator / across;
        out.plain.push_back({-sign * share * 0.5 * (1.0 + pole), std::sqrt(edge.z * edge.z + across)});
        pole_mean += share * pole;
        pole_slope_mean += share * pole * one_less_cosine;
    }
    const double slope_mean = (numerator - edge.side() * edge.gap * edge.gap) / twice_ar;
    out.plain.push_back({-sign * 0.5 * (edge.side() - pole_mean), edge.nearest});
    out.by_gamma.push_back({sign * 0.25 * twice_ar / edge.nearest * (slope_mean - pole_slope_mean), edge.nearest});
}

}  // namespace

void ring_terms(double inner_m, double outer_m, double r_m, double z_m, double max_wavenumber, double tolerance,
                RingTerms& out) {
    out.plain.clear();
    out.by_gamma.clear();
    const double z = std::abs(z_m);
    const Edge outer(outer_m, r_m, z);
    double below = 0.5 * (1.0 + outer.side());
    edge_terms(outer, 1.0, max_wavenumber, tolerance, out);
    if (inner_m > 0.0) {
        const Edge inner(inner_m, r_m, z);
        below -= 0.5 * (1.0 + inner.side());
        edge_terms(inner, -1.0, max_wavenumber, tolerance, out);
    }
    if (below != 0.0) {
        out.plain.push_back({below, z});
    }
}

std::complex<double> ring_response(double inner_m, double outer_m, double r_m, double z_m,
                                   std::complex<double> gamma_per_m) {
    RingTerms terms;
    ring_terms(inner_m, outer_m, r_m, z_m, std::abs(gamma_per_m), 1e-10, terms);
    const auto sum = [&](const std::vector<WaveTerm>& waves) {
        std::complex<double> total;
        for (const WaveTerm& wave : waves) {
            total += wave.weight * std::exp(-gamma_per_m * wave.path_m);
        }
        return total;
    };
    return sum(terms.plain) / gamma_per_m + sum(terms.by_gamma);
}

}  // namespace echoloom
