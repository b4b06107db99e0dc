#include "sim/engine/node_count.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace echoloom {

namespace {

constexpr double step = 0.25;
constexpr std::size_t entries = 4 * max_nodes;
constexpr std::size_t orders = max_nodes + 64;  // beyond it J_n is negligible for every tabulated argument that counts

/// sqrt(4 sum over n >= m of J_n(a)^2) for m = 0 .. max_nodes, by the downward recurrence (J. C. P. Miller),
/// normalised by J_0 + 2 J_2 + 2 J_4 + ... = 1.
std::vector<float> tails(double a) {
    const auto start = static_cast<std::size_t>(a) + orders;
    std::vector<double> bessel(start + 2, 0.0);
    bessel[start] = 1e-300;
    double sum = 0.0;
    for (std::size_t n = start; n > 0; --n) {
        bessel[n - 1] = 2.0 * static_cast<double>(n) / a * bessel[n] - bessel[n + 1];
        if (std::abs(bessel[n - 1]) > 1e250) {
            for (std::size_t m = n - 1; m <= start; ++m) {
                bessel[m] *= 1e-300;
            }
        }
    }
    for (std::size_t n = 0; n <= start; n += 2) {
        sum += (n == 0 ? 1.0 : 2.0) * bessel[n];
    }
    std::vector<float> out(max_nodes + 1);
    double squares = 0.0;
    for (std::size_t n = start + 1; n-- > 0;) {
        const double value = bessel[n] / sum;
        squares += 4.0 * value * value;
        if (n <= max_nodes) {
            out[n] = static_cast<float>(std::sqrt(squares));
        }
    }
    return out;
}

const std::vector<std::vector<float>>& table() {
    static const std::vector<std::vector<float>> rows = [] {
        std::vector<std::vector<float>> all;
        for (std::size_t i = 0; i < entries; ++i) {
            all.push_back(tails(step * static_cast<double>(i + 1)));
        }
        return all;
    }();
    return rows;
}

std::size_t entry(double a) {
    return static_cast<std::size_t>(std::max(std::ceil(a / step) - 1.0, 0.0));
}

}  // namespace

double interpolation_error(double a, std::size_t nodes) {
    const std::size_t i = entry(a);
    return i < entries ? static_cast<double>(table()[i][std::min(nodes, max_nodes)]) : 2.0;
}

std::size_t nodes_for_phase(double a, double tolerance) {
    const std::size_t i = entry(a);
    if (i >= entries) {
        return max_nodes + 1;
    }
    const std::vector<float>& errors = table()[i];
    const auto found = std::find_if(errors.begin() + 1, errors.end(),
                                    [&](float error) { return static_cast<double>(error) <= tolerance; });
    return static_cast<std::size_t>(found - errors.begin());
}

}  // namespace echoloom
