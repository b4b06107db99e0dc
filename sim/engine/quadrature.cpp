#include "sim/engine/quadrature.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <numbers>

namespace echoloom {

GaussLegendre gauss_legendre(int count) {
    GaussLegendre rule;
    rule.node.resize(static_cast<std::size_t>(count));
    rule.weight.resize(static_cast<std::size_t>(count));
    for (int i = 0; i < count; ++i) {
        double x = std::cos(std::numbers::pi * (count - i - 0.25) / (count + 0.5));
        double slope = 1.0;
        for (int step = 0; step < 100; ++step) {
            double previous = 1.0;
            double value = x;
            for (int n = 2; n <= count; ++n) {
                const double next = ((2.0 * n - 1.0) * x * value - (n - 1.0) * previous) / n;
                previous = value;
                value = next;
            }
            slope = count * (x * value - previous) / (x * x - 1.0);
            const double change = value / slope;
            x -= change;
            if (std::abs(change) < 1e-15) {
                break;
            }
        }
        const auto at = static_cast<std::size_t>(i);
        rule.node[at] = x;
        rule.weight[at] = 2.0 / ((1.0 - x * x) * slope * slope);
    }
    return rule;
}

const GaussLegendre& kept_gauss_legendre(int count) {
    static std::mutex mutex;
    static std::map<int, GaussLegendre> kept;
    const std::lock_guard lock(mutex);
    const auto found = kept.find(count);
    return found != kept.end() ? found->second : kept.emplace(count, gauss_legendre(count)).first->second;
}

int points_for_phase(double a, double tolerance) {
    for (int n = 1; n <= most_face_points; ++n) {
        const double log_error = 2.0 * n * std::log(2.0) + 4.0 * std::lgamma(n + 1.0) - std::log(2.0 * n + 1.0) -
                                 3.0 * std::lgamma(2.0 * n + 1.0) + 2.0 * n * std::log(std::max(a, 1e-12));
        if (log_error < std::log(tolerance)) {
            return n;
        }
    }
    return most_face_points + 1;
}

int points_for_nearness(double relative_distance, double tolerance) {
    const double rho = relative_distance + std::sqrt(1.0 + relative_distance * relative_distance);
    return static_cast<int>(std::ceil(std::min(-std::log(tolerance) / (2.0 * std::log(rho)), 1e6)));
}

}  // namespace echoloom
