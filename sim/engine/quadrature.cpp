#include "sim/engine/quadrature.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>
#include <numbers>

namespace echoloom {

GaussLegendre gauss_legendre(int count) {
    // Newton's steps for all nodes side by side: one node's recurrence waits for its own divisions.
    const auto size = static_cast<std::size_t>(count);
    GaussLegendre rule{std::vector<double>(size), std::vector<double>(size)};
    std::vector<double>& node = rule.node;
    for (int i = 0; i < count; ++i) {
        node[static_cast<std::size_t>(i)] = std::cos(std::numbers::pi * (count - i - 0.25) / (count + 0.5));
    }
    std::vector<double> previous(size);
    std::vector<double> value(size);
    std::vector<char> found(size, 0);
    for (int step = 0; step < 100 && std::ranges::count(found, 0) > 0; ++step) {
        std::ranges::fill(previous, 1.0);
        value = node;
        for (int n = 2; n <= count; ++n) {
            for (std::size_t i = 0; i < size; ++i) {
                const double next = ((2.0 * n - 1.0) * node[i] * value[i] - (n - 1.0) * previous[i]) / n;
                previous[i] = value[i];
                value[i] = next;
            }
        }
        for (std::size_t i = 0; i < size; ++i) {
            if (found[i] == 0) {
                const double slope = count * (node[i] * value[i] - previous[i]) / (node[i] * node[i] - 1.0);
                const double change = value[i] / slope;
                node[i] -= change;
                rule.weight[i] = 2.0 / ((1.0 - node[i] * node[i]) * slope * slope);
                found[i] = std::abs(change) < 1e-15 ? 1 : 0;
            }
        }
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
    for (int n = 1; n <= max_face_points; ++n) {
        const double log_error = 2.0 * n * std::log(2.0) + 4.0 * std::lgamma(n + 1.0) - std::log(2.0 * n + 1.0) -
                                 3.0 * std::lgamma(2.0 * n + 1.0) + 2.0 * n * std::log(std::max(a, 1e-12));
        if (log_error < std::log(tolerance)) {
            return n;
        }
    }
    return max_face_points + 1;
}

int points_for_nearness(double relative_distance, double tolerance) {
    const double rho = relative_distance + std::sqrt(1.0 + relative_distance * relative_distance);
    return static_cast<int>(std::ceil(std::min(-std::log(tolerance) / (2.0 * std::log(rho)), 1e6)));
}

}  // namespace echoloom
