#include "sim/array/window.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <stdexcept>
#include <string>

namespace echoloom {

namespace {

using std::numbers::pi;

constexpr std::array<std::string_view, 10> names = {"rectangular", "triangle", "cosine",   "hann",   "hamming",
                                                    "blackman",    "tukey",    "gaussian", "kaiser", "dolph_chebyshev"};

double tukey(double tapered, double x) {
    const double into_taper = std::abs(x) - 0.5 * (1.0 - tapered);
    return into_taper <= 0.0 ? 1.0 : 0.5 + 0.5 * std::cos(2.0 * pi * into_taper / tapered);
}

double kaiser(double beta, double x) {
    const double inside = std::sqrt(std::max(0.0, 1.0 - 4.0 * x * x));
    return std::cyl_bessel_i(0.0, beta * inside) / std::cyl_bessel_i(0.0, beta);
}

/// Chebyshev polynomial of the first kind, in the form that holds for every real x.
double chebyshev(int order, double x) {
    if (std::abs(x) <= 1.0) {
        return std::cos(order * std::acos(x));
    }
    const double value = std::cosh(order * std::acosh(std::abs(x)));
    return (x < 0.0 && order % 2 != 0) ? -value : value;
}

/// The beam pattern of least main-lobe width is T_(count-1)(beta cos(pi k / count)); its inverse transform at the
/// element centres are the weights. C. L. Dolph, Proc. IRE 34, 335-348, 1946 (from memory).
std::vector<double> dolph_chebyshev(double side_lobe_dB, int count) {
    const int order = count - 1;
    const double beta = std::cosh(std::acosh(std::pow(10.0, side_lobe_dB / 20.0)) / order);
    std::vector<double> pattern;
    pattern.reserve(static_cast<std::size_t>(count));
    for (int k = 0; k < count; ++k) {
        pattern.push_back(chebyshev(order, beta * std::cos(pi * k / count)));
    }
    std::vector<double> weights(static_cast<std::size_t>(count));
    for (int n = 0; n < (count + 1) / 2; ++n) {
        double sum = 0.0;
        for (int k = 0; k < count; ++k) {
            // 2 pi k (n - order/2) / count with the whole turns taken out, so that the cosine keeps all its digits.
            const long long half_turns = static_cast<long long>(k) * (2LL * n - order) % (2LL * count);
            sum += pattern[static_cast<std::size_t>(k)] * std::cos(pi * static_cast<double>(half_turns) / count);
        }
        weights[static_cast<std::size_t>(n)] = weights[static_cast<std::size_t>(count - 1 - n)] = sum;
    }
    const double peak = *std::ranges::max_element(weights);
    for (double& weight : weights) {
        weight /= peak;
    }
    return weights;
}

/// Straight lines between the element centres, constant from the outermost centre to the aperture's edge.
double interpolate(std::span<const double> weights, double x) {
    const auto count = static_cast<double>(weights.size());
    const double position = std::clamp(x * count + 0.5 * (count - 1.0), 0.0, count - 1.0);
    const auto left = std::min(static_cast<std::size_t>(position), weights.size() - 2);
    const double part = position - static_cast<double>(left);
    return (1.0 - part) * weights[left] + part * weights[left + 1];
}

std::vector<double> sampled(const Window& window, int count, double intervals) {
    if (count < 1) {
        return {};
    }
    if (count == 1) {
        return {1.0};
    }
    if (window.kind == WindowKind::dolph_chebyshev) {
        return dolph_chebyshev(window.parameter, count);
    }
    std::vector<double> weights;
    weights.reserve(static_cast<std::size_t>(count));
    for (int n = 0; n < count; ++n) {
        weights.push_back(window_value(window, (n - 0.5 * (count - 1)) / intervals, count));
    }
    return weights;
}

}  // namespace

std::span<const std::string_view> window_names() {
    return names;
}

WindowKind window_kind(std::string_view name) {
    const auto found = std::ranges::find(names, name);
    if (found == names.end()) {
        throw std::invalid_argument("no window is called '" + std::string(name) + "'");
    }
    return static_cast<WindowKind>(found - names.begin());
}

std::string_view window_name(WindowKind kind) {
    return names.at(static_cast<std::size_t>(kind));
}

WindowParameter window_parameter(WindowKind kind) {
    switch (kind) {
        case WindowKind::tukey:
            return {0.5, 0.0, 1.0};
        case WindowKind::gaussian:
            return {2.5, 0.0, 10.0};
        case WindowKind::kaiser:
            return {6.0, 0.0, 50.0};
        case WindowKind::dolph_chebyshev:
            return {50.0, 15.0, 120.0};
        default:
            return {};
    }
}

double window_default_parameter(WindowKind kind) {
    return window_parameter(kind).usual;
}

double window_value(const Window& window, double x, int count) {
    if (std::abs(x) > 0.5) {
        return 0.0;
    }
    switch (window.kind) {
        case WindowKind::rectangular:
            return 1.0;
        case WindowKind::triangle:
            return 1.0 - 2.0 * std::abs(x);
        case WindowKind::cosine:
            return std::cos(pi * x);
        case WindowKind::hann:
            return 0.5 + 0.5 * std::cos(2.0 * pi * x);
        case WindowKind::hamming:
            return 0.54 + 0.46 * std::cos(2.0 * pi * x);
        case WindowKind::blackman:
            return 0.42 + 0.50 * std::cos(2.0 * pi * x) + 0.08 * std::cos(4.0 * pi * x);
        case WindowKind::tukey:
            return tukey(window.parameter, x);
        case WindowKind::gaussian:
            return std::exp(-2.0 * window.parameter * window.parameter * x * x);
        case WindowKind::kaiser:
            return kaiser(window.parameter, x);
        case WindowKind::dolph_chebyshev:
            return count < 2 ? 1.0 : interpolate(dolph_chebyshev(window.parameter, count), x);
    }
    return 0.0;
}

std::vector<double> window_at_centers(const Window& window, int count) {
    return sampled(window, count, count);
}

std::vector<double> window_symmetric(const Window& window, int count) {
    return sampled(window, count, count - 1);
}

}  // namespace echoloom
