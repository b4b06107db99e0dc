// Rings by theory's own formula, against the Rayleigh integral.

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "recon/measure/prediction.h"
#include "recon/measure/ring_wave.h"
#include "recon/measure/slice_width.h"
#include "recon/measure/theory.h"
#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "tests/measure/synthetic.h"

namespace echoloom {
namespace {

constexpr double speed = 1540.0;

Element ring(double inner, double outer) {
    Element element;
    element.inner_m = inner;
    element.outer_m = outer;
    return element;
}

/// The response with its travel phase, lossless.
Complex response(const Element& element, double frequency, double radius, double height) {
    const RingPlace place{radius, height};
    const Frequencies one{frequency, 0.0, 1};
    return ring_response_at(element, Medium{}, false, one, place)[0] *
           std::polar(1.0, -2.0 * std::numbers::pi * frequency / speed * place.distance_m());
}

TEST(RingWave, IsTheRayleighIntegralOfADisc) {
    // H of a disc of 5 mm radius at 3 MHz, z = 20 mm, in metres: the Rayleigh integral, summed over the face by
    // tests/published/recompute_pistons.py. Closed form of h: P. R. Stepanishen, J. Acoust. Soc. Am. 49, 1629-1638,
    // 1971 (from memory).
    const Element disc = ring(0.0, 5e-3);
    const Complex axis = response(disc, 3e6, 0.0, 20e-3);
    EXPECT_NEAR(axis.real(), 8.881495594395e-05, 1e-15);
    EXPECT_NEAR(axis.imag(), -3.553884848658e-05, 1e-15);
    const Complex aside = response(disc, 3e6, 3e-3, 20e-3);
    EXPECT_NEAR(aside.real(), 3.786553730071e-05, 1e-13);
    EXPECT_NEAR(aside.imag(), -7.589213806212e-05, 1e-13);
}

TEST(RingWave, IsTheDifferenceOfTwoDiscs) {
    // |H| of a ring of 3 to 5 mm at 3 MHz, in metres: summed over the face by tests/published/recompute_pistons.py.
    const Element element = ring(3e-3, 5e-3);
    struct Row {
        double radius, height, magnitude;
    };
    for (const Row& row : {Row{0.0, 20e-3, 1.106485480072e-04}, Row{2e-3, 20e-3, 5.746874528859e-05},
                           Row{4e-3, 20e-3, 5.038053303317e-05}, Row{7e-3, 15e-3, 1.419623981325e-05}}) {
        EXPECT_NEAR(std::abs(response(element, 3e6, row.radius, row.height)), row.magnitude, 1e-13) << row.radius;
    }
}

TEST(RingWave, StaysExactAtTheEdgeAndUnderLoss) {
    // The Rayleigh integral itself, by rings of area elements about the disc's own axis.
    const double a = 4e-3, r = 4e-3, z = 12e-3, f = 5e6;
    Medium medium;
    medium.attenuation_dB_cm_MHz = 0.7;
    const Complex gamma(medium.attenuation_Np_m(f), 2.0 * std::numbers::pi * f / speed);
    Complex sum = 0.0;
    constexpr int rings = 1200, angles = 600;
    for (int i = 0; i < rings; ++i) {
        const double s = a * (i + 0.5) / rings;
        for (int j = 0; j < angles; ++j) {
            const double distance =
                std::sqrt(z * z + s * s + r * r - 2.0 * s * r * std::cos(std::numbers::pi * (j + 0.5) / angles));
            sum += std::exp(-gamma * distance) / distance * s;
        }
    }
    sum *= a / rings / angles;  // half the circle, twice: pi / (2 pi) * 2
    const Complex exact = ring_response_at(ring(0.0, a), medium, true, {f, 0.0, 1}, {r, z})[0] *
                          std::polar(1.0, -gamma.imag() * std::hypot(r, z));
    EXPECT_LT(std::abs(exact - sum) / std::abs(sum), 2e-5) << "the midpoint rule's own error";
}

TEST(RingWave, TheTableFollowsIt) {
    Probe probe;
    probe.elements = {ring(0.0, 3e-3), ring(3.1e-3, 5e-3)};
    const Frequencies frequencies{0.5e6, 0.5e6, 16};
    const RingTable table(probe, Medium{}, false, frequencies, {6e-3, 29.5e-3, 30.5e-3});
    for (const RingPlace& place : {RingPlace{0.0, 30e-3}, RingPlace{0.013e-3, 29.6e-3}, RingPlace{2.37e-3, 30.21e-3},
                                   RingPlace{5.99e-3, 29.87e-3}}) {
        for (std::size_t n = 0; n < 2; ++n) {
            Spectrum sum(frequencies.count);
            table.add(sum, n, place, 1.0, 0.0);
            const Spectrum exact = ring_response_at(probe.elements[n], Medium{}, false, frequencies, place);
            for (std::size_t f = 0; f < frequencies.count; ++f) {
                const double plane_wave = speed / (2.0 * std::numbers::pi * frequencies.at(f));
                EXPECT_LT(std::abs(sum[f] - exact[f]), 1e-3 * plane_wave) << n << " " << place.radius_m;
            }
        }
    }
}

/// A disc of 10 mm radius cut into rings of equal area, on a head, one line broadside.
RecordingInfo annular(int rings, double focus, double turn_rate = 0.0, double face_radius = 10e-3) {
    RecordingInfo info;
    info.probe.kind = "annular";
    info.probe.center_Hz = 5e6;
    info.probe.bandwidth_fraction = 0.6;
    info.probe.pulse = GaussianPulse{5e6, 0.6};
    info.probe.elements = ring_face(equal_area_edges(rings, 10e-3, 0.0));
    info.channels = static_cast<std::size_t>(rings);
    info.head = HeadMotion{face_radius, turn_rate};
    info.events = {swept_event(info.probe, *info.head, {focus, rings, Window{}}, 0.0, speed)};
    for (int n = 0; n < rings; ++n) info.events.front().receivers.push_back(n);
    return info;
}

TEST(LateralTheory, OfADiscIsTheAiryPatterns) {
    // 2 J1(x) / x squared (M. Born & E. Wolf, Principles of Optics, sec. 8.5.2, from memory): two-way half amplitude
    // 1.028994 lambda F#, one tenth 1.738850 (recomputed by tests/published/recompute_pistons.py). A disc in rings is a
    // disc.
    const double unit = speed / 5e6 * 80e-3 / 20e-3;
    for (const int rings : {1, 8}) {
        const RecordingInfo info = annular(rings, 80e-3);
        EXPECT_NEAR(lateral_theory_m(info, Recipe{}, {0.0, 0.0, 80e-3}, 0.5) / unit, 1.028993970, 1e-6);
        EXPECT_NEAR(lateral_theory_m(info, Recipe{}, {0.0, 0.0, 80e-3}, 0.1) / unit, 1.738850, 2e-6);
    }
}

TEST(LateralTheory, AGrowingDiscKeepsItsFNumber) {
    // Transmit is the whole disc at F# 4; a receive disc of F# 8 makes the product wider than 1.029 times 4, and
    // narrower than its own one-way 1.410 times 8.
    RecordingInfo info = annular(8, 80e-3);
    Recipe recipe;
    recipe.aperture = ApertureMode::growing;
    recipe.f_number = 8.0;
    const double wavelength = speed / 5e6;
    const double theory = lateral_theory_m(info, recipe, {0.0, 0.0, 80e-3}, 0.5);
    EXPECT_GT(theory, 1.029 * wavelength * 4.0);
    EXPECT_LT(theory, 1.4102 * wavelength * 4.0);
    // One way: only the innermost of many rings transmits, a disc of F# 80 that leaves the pattern to the receive
    // disc, 1.410 (one-way, recomputed likewise) at any depth at which the face is large enough.
    info = annular(400, 80e-3);
    std::fill(info.events.front().weight.begin() + 1, info.events.front().weight.end(), 0.0);
    recipe.f_number = 4.0;
    for (const double depth : {40e-3, 60e-3, 80e-3}) {
        EXPECT_NEAR(lateral_theory_m(info, recipe, {0.0, 0.0, depth}, 0.5) / (wavelength * 4.0), 1.41017, 0.01)
            << depth;
    }
}

TEST(Prediction, OfRingsIsTheFocusedDiscs) {
    // F# 2, 5 MHz, one way 1.4414 lambda F# for a disc with focusing delays and exact distances (in no book that we
    // know; recomputed over the face by tests/published/recompute_pistons.py); so many rings focus alike. Two way by
    // squaring: the ratio of the paraxial constants.
    const RecordingInfo info = annular(40, 40e-3);
    const PredictionTerms wave{.broadband = false, .attenuation = false};
    const auto prediction = predict_point(info, Recipe{}, {0.0, 0.0, 40e-3}, wave);
    ASSERT_TRUE(prediction.lateral_6dB.width_m);
    EXPECT_NEAR(*prediction.lateral_6dB.width_m / (speed / 5e6 * 2.0), 1.0290 * 1.4414 / 1.4102, 0.006);
}

TEST(Slice, OfAStationaryHeadIsAsThickAsItsBeamIsWide) {
    for (const double depth : {40e-3, 60e-3}) {
        const RecordingInfo info = annular(8, 40e-3);
        const Vec3 point(0.0, 0.0, depth);
        const auto lateral = predict_point(info, Recipe{}, point);
        const auto slice = elevation_width_m(info, Recipe{}, point, 0.5);
        ASSERT_TRUE(lateral.lateral_6dB.width_m && slice.width_m);
        EXPECT_NEAR(*slice.width_m / *lateral.lateral_6dB.width_m, 1.0, 0.01) << depth;
    }
}

/// Half of the -6 dB width of the product of two patterns 2 J1(x)/x set `apart` from each other.
double airy_product_half(double apart) {
    const auto airy = [](double x) {
        return std::abs(x) < 1e-9 ? 1.0 : 2.0 * std::cyl_bessel_j(1.0, std::abs(x)) / std::abs(x);
    };
    const auto both = [&](double x) { return airy(x - 0.5 * apart) * airy(x + 0.5 * apart); };
    double x = 0.0;
    while (both(x) > 0.5 * both(0.0)) x += 1e-4;
    return x;
}

TEST(Prediction, ARotatingHeadReceivesBesideWhereItTransmitted) {
    // 100 mm deep: 130 us there and back. At 20 rad/s the head turns by 2.6 mrad meanwhile; the point is drawn half of
    // that before its place, about the axis 110 mm away, and the beam is as good as that of a stationary head.
    const Vec3 point(0.0, 0.0, 100e-3);
    const auto still = predict_point(annular(8, 100e-3), Recipe{}, point);
    const auto slow = predict_point(annular(8, 100e-3, 20.0), Recipe{}, point);
    const auto fast = predict_point(annular(8, 100e-3, 100.0), Recipe{}, point);
    const double turned = 20.0 * 2.0 * 100e-3 / speed;
    EXPECT_NEAR(slow.search_offset_m, -0.5 * turned * 110e-3, 1e-9);
    ASSERT_TRUE(still.lateral_6dB.width_m && slow.lateral_6dB.width_m && fast.lateral_6dB.width_m);
    EXPECT_NEAR(still.lateral_offset_m, 0.0, 1e-6);
    EXPECT_NEAR(slow.lateral_offset_m, slow.search_offset_m, 2e-6);
    EXPECT_NEAR(fast.lateral_offset_m, fast.search_offset_m, 2e-5);
    EXPECT_NEAR(*slow.lateral_6dB.width_m / *still.lateral_6dB.width_m, 1.0, 0.01);
    // At 100 rad/s the two beams look 13 mrad past each other: the product of two Airy patterns set so far apart,
    // against one squared. 5 % for the pulse, which the patterns know nothing of: common practice, no source.
    const double apart = std::numbers::pi * 20e-3 / (speed / 5e6) * 100.0 * 2.0 * 100e-3 / speed * 1.1;
    EXPECT_NEAR(*fast.lateral_6dB.width_m / *still.lateral_6dB.width_m,
                airy_product_half(apart) / airy_product_half(0.0), 0.05);
}

}  // namespace
}  // namespace echoloom
