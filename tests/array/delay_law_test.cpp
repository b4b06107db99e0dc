#include "sim/array/delay_law.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "tests/published/delays.h"

namespace echoloom {
namespace {

constexpr double c = 1540.0;
constexpr double degree = std::numbers::pi / 180.0;

double focusing_delay_ns(double x_mm, double range_mm, double angle_deg) {
    Element element;
    element.center_m.x() = x_mm * 1e-3;
    const double angle = angle_deg * degree;
    const Vec3 focus = range_mm * 1e-3 * Vec3(std::sin(angle), 0.0, std::cos(angle));
    return focusing_delays({&element, 1}, Vec3::Zero(), focus, c).front() * 1e9;
}

// O. T. von Ramm & S. W. Smith, IEEE Trans. BME 30, 438-452, 1983 (law from memory); numbers recomputed by
// tests/published/recompute_timing.py.
TEST(DelayLaw, IsThePublishedOne) {
    for (const auto& row : published::delays) {
        for (std::size_t i = 0; i < published::delay_x_mm.size(); ++i) {
            EXPECT_NEAR(focusing_delay_ns(published::delay_x_mm[i], row.range_mm, row.angle_deg), row.delay_ns[i],
                        1e-6);
        }
    }
}

TEST(DelayLaw, DiffersFromTheParabolaAsPublished) {
    for (const auto& row : published::parabolic_errors) {
        const double angle = row.angle_deg * degree;
        const double parabola_mm =
            row.x_mm * std::sin(angle) - std::pow(row.x_mm * std::cos(angle), 2) / (2.0 * row.range_mm);
        EXPECT_NEAR(parabola_mm * 1e6 / c - focusing_delay_ns(row.x_mm, row.range_mm, row.angle_deg), row.error_ns,
                    6e-4);
    }
}

TEST(DelayLaw, WaveletsMeetAtTheFocus) {
    std::vector<Element> elements(5);
    for (int i = 0; i < 5; ++i) {
        elements[static_cast<std::size_t>(i)].center_m = Vec3(3e-3 * i, 1e-3 * (i % 2), -2e-4 * i);
    }
    const Vec3 origin(1e-3, 0.0, 0.0);
    const Vec3 focus(5e-3, 1e-3, 30e-3);
    const auto delays = focusing_delays(elements, origin, focus, c);
    for (std::size_t i = 0; i < elements.size(); ++i) {
        EXPECT_NEAR(delays[i] + (focus - elements[i].center_m).norm() / c, (focus - origin).norm() / c, 1e-15);
    }
}

TEST(DelayLaw, PlaneFrontPassesEveryElementInTurn) {
    std::vector<Element> elements(3);
    elements[0].center_m.x() = -5e-3;
    elements[2].center_m.x() = 5e-3;
    const double angle = 15.0 * degree;
    const auto delays = plane_delays(elements, Vec3::Zero(), Vec3(std::sin(angle), 0.0, std::cos(angle)), c);
    EXPECT_DOUBLE_EQ(delays[0], -5e-3 * std::sin(angle) / c);
    EXPECT_EQ(delays[1], 0.0);
    EXPECT_DOUBLE_EQ(delays[2], 5e-3 * std::sin(angle) / c);
}

}  // namespace
}  // namespace echoloom
