#include "sim/engine/quadrature.h"

#include <gtest/gtest.h>

#include <cmath>
#include <complex>

namespace echoloom {
namespace {

// M. Abramowitz & I. A. Stegun, Handbook of Mathematical Functions (1964), table 25.4, n = 5 (from memory; recomputed
// by tests/published/recompute_mathematics.py).
TEST(Quadrature, FivePointsAreTheHandbooks) {
    const GaussLegendre rule = gauss_legendre(5);
    EXPECT_NEAR(rule.node[4], 0.906179845938664, 1e-15);
    EXPECT_NEAR(rule.node[3], 0.538469310105683, 1e-15);
    EXPECT_NEAR(rule.node[2], 0.0, 1e-15);
    EXPECT_NEAR(rule.weight[4], 0.236926885056189, 1e-15);
    EXPECT_NEAR(rule.weight[3], 0.478628670499366, 1e-15);
    EXPECT_NEAR(rule.weight[2], 0.568888888888889, 1e-15);
}

// n points integrate x^p exactly up to p = 2 n - 1: 2 / (p + 1), or nothing where p is odd.
TEST(Quadrature, IsExactForPolynomials) {
    for (int n : {1, 2, 7, 20, 64, 96}) {
        const GaussLegendre rule = gauss_legendre(n);
        for (int power = 0; power < 2 * n; power += 3) {
            double sum = 0.0;
            for (std::size_t i = 0; i < rule.node.size(); ++i) {
                sum += rule.weight[i] * std::pow(rule.node[i], power);
            }
            EXPECT_NEAR(sum, power % 2 == 0 ? 2.0 / (power + 1) : 0.0, 1e-13) << n << " " << power;
        }
    }
}

// The mean of exp(j a x) from -1 to 1 is sin(a) / a.
TEST(Quadrature, PointCountsKeepTheirPromise) {
    for (double tolerance : {1e-2, 1e-4, 1e-6}) {
        for (double a = 0.1; a < 40.0; a *= 1.3) {
            const GaussLegendre rule = gauss_legendre(points_for_phase(a, tolerance));
            std::complex<double> mean;
            for (std::size_t i = 0; i < rule.node.size(); ++i) {
                mean += rule.weight[i] / 2.0 * std::polar(1.0, a * rule.node[i]);
            }
            EXPECT_LT(std::abs(mean - std::sin(a) / a), tolerance) << a;
        }
    }
}

}  // namespace
}  // namespace echoloom
