#include "sim/engine/field.h"

#include <gtest/gtest.h>
#include <omp.h>

#include <array>
#include <cmath>
#include <numbers>

#include "sim/array/face.h"
#include "sim/array/transmit.h"
#include "sim/engine/field_beam.h"
#include "sim/engine/quadrature.h"

namespace echoloom {
namespace {

using std::numbers::pi;
using Complex = std::complex<double>;

constexpr double c = 1540.0;
constexpr double mm = 1e-3;

Probe probe_of(std::vector<Element> elements, double center_Hz) {
    Probe probe;
    probe.center_Hz = center_Hz;
    probe.bandwidth_fraction = 0.6;
    probe.pulse = GaussianPulse{center_Hz, 0.6};
    probe.elements = std::move(elements);
    return probe;
}

Probe disc(double radius_m, double center_Hz) {
    const double edges[] = {0.0, radius_m};
    Probe probe = probe_of(ring_face(edges), center_Hz);
    probe.kind = "annular";
    return probe;
}

Probe rectangle(double width_m, double height_m, double center_Hz) {
    Probe probe = probe_of(flat_face(1, width_m, width_m, 1, 0.0, height_m), center_Hz);
    probe.pitch_m = width_m;
    return probe;
}

/// Every element at once.
TransmitEvent all_at_once(const Probe& probe) {
    TransmitEvent event;
    event.kind = TransmitKind::plane;
    event.weight.assign(probe.elements.size(), 1.0);
    event.delay_s.assign(probe.elements.size(), 0.0);
    return event;
}

TransmittedField field_of(const Probe& probe, const TransmitEvent& event, const Medium& medium = {}) {
    return {probe, std::nullopt, event, medium, probe.center_Hz};
}
TransmittedField field_of(const Probe& probe) {
    return field_of(probe, all_at_once(probe));
}

BeamAperture aperture_of(const Probe& probe) {
    return beam_aperture(probe, all_at_once(probe));
}

const BeamAxis straight = beam_axis(TransmitEvent{});

/// The face integral by another way: equal panels, each with the same few Gauss-Legendre points.
Complex by_panels(const Probe& probe, const Vec3& point, int panels) {
    const Element& element = probe.elements.front();
    const double k = 2.0 * pi * probe.center_Hz / c;
    const double focus = probe.elevation_focus_m;
    const Vec3 lateral(element.normal.z(), 0.0, -element.normal.x());
    const GaussLegendre rule = gauss_legendre(8);
    Complex sum;
    for (int j = 0; j < 8 * panels; ++j) {
        for (int i = 0; i < 8 * panels; ++i) {
            const auto place = [&](int n, double size) {
                return size * ((n / 8 + 0.5 * (rule.node[static_cast<std::size_t>(n % 8)] + 1.0)) / panels - 0.5);
            };
            const double y = place(j, element.height_m);
            const Vec3 from = point - element.center_m - place(i, element.width_m) * lateral - Vec3(0, y, 0);
            const double lens = std::isfinite(focus) ? std::hypot(focus, y) - focus : 0.0;
            const double baffle = probe.baffle == Baffle::soft ? from.dot(element.normal) / from.norm() : 1.0;
            sum += rule.weight[static_cast<std::size_t>(i % 8)] * rule.weight[static_cast<std::size_t>(j % 8)] *
                   baffle / from.norm() * std::polar(1.0, -k * (from.norm() - lens));
        }
    }
    return Complex(0.0, k / (2.0 * pi)) * sum * (element.width_m * element.height_m / (4.0 * panels * panels));
}

// |p| / (rho c v) = 2 |sin((k / 2) (sqrt(z^2 + a^2) - z))| on the axis of a disc: L. E. Kinsler, A. R. Frey, A. B.
// Coppens & J. V. Sanders, Fundamentals of Acoustics, 4th ed. 2000, sec. 7.4 (from memory); values recomputed by
// tests/published/recompute_pistons.py.
TEST(Field, DiscOnItsAxis) {
    const std::array depths{5.0, 10.0, 20.0, 100.0};
    const std::array at_3MHz{0.216643588256, 1.615679750183, 1.170892970749, 1.384382297752};
    const std::array at_5MHz{1.523883856354, 1.005767601743, 0.009626127322, 1.912674281541};
    const TransmittedField low = field_of(disc(5 * mm, 3e6));
    const TransmittedField high = field_of(disc(5 * mm, 5e6));
    for (std::size_t i = 0; i < depths.size(); ++i) {
        EXPECT_NEAR(low.amplitude(Vec3(0, 0, depths[i] * mm)), at_3MHz[i], 1e-6) << depths[i];
        EXPECT_NEAR(high.amplitude(Vec3(0, 0, depths[i] * mm)), at_5MHz[i], 1e-6) << depths[i];
    }
    for (const double zero_mm : {24.0940, 11.6620}) {
        EXPECT_LT(low.amplitude(Vec3(0, 0, zero_mm * mm)), 2e-4) << zero_mm;
    }
}

// A ring is the difference of two discs, by linearity; |H| in metres recomputed by quadrature in
// tests/published/recompute_pistons.py.
TEST(Field, RingOffItsAxis) {
    const double edges[] = {3 * mm, 5 * mm};
    const TransmittedField field = field_of(probe_of(ring_face(edges), 3e6));
    const double k = 2.0 * pi * 3e6 / c;
    EXPECT_NEAR(field.amplitude(Vec3(0, 0, 20 * mm)), 1.354335061, 1e-8);
    EXPECT_NEAR(field.amplitude(Vec3(2 * mm, 0, 20 * mm)), k * 5.746874528859e-05, 1e-8);
    EXPECT_NEAR(field.amplitude(Vec3(0, 4 * mm, 20 * mm)), k * 5.038053303317e-05, 1e-8);
    EXPECT_NEAR(field.amplitude(Vec3(7 * mm, 0, 15 * mm)), k * 1.419623981325e-05, 1e-8);
}

// Exact transforms of a rectangle's impulse response: corner decomposition after J. C. Lockwood & J. G. Willette, J.
// Acoust. Soc. Am. 53, 735-741, 1973 (from memory); values recomputed by quadrature in
// tests/published/recompute_pistons.py.
TEST(Field, RectangleMatchesItsClosedForm) {
    const TransmittedField field = field_of(rectangle(0.3 * mm, 5 * mm, 5e6));
    const Complex jk(0.0, 2.0 * pi * 5e6 / c);
    const auto expect = [&](const Vec3& point, const Complex& response_m) {
        EXPECT_LT(std::abs(field.at(point) - jk * response_m) / std::abs(jk * response_m), 1e-6) << point.transpose();
    };
    expect(Vec3(0, 0, 20 * mm), {6.368904912307e-06, -3.776243477463e-06});
    expect(Vec3(0, 0, 2 * mm), {-1.215879059409e-05, 1.168571641469e-05});
    expect(Vec3(0.15 * mm, 2.5 * mm, 10 * mm), {-2.985306279887e-06, 2.257436845894e-06});
    expect(Vec3(5 * mm, 0, 20 * mm), {5.893903694248e-06, -3.263516900126e-06});
}

TEST(Field, RectangleNearAndFarWithLensAndBaffle) {
    for (const Baffle baffle : {Baffle::rigid, Baffle::soft}) {
        for (const double angle : {0.0, 0.5}) {
            Probe probe = rectangle(0.5 * mm, 6 * mm, 5e6);
            probe.baffle = baffle;
            probe.elevation_focus_m = 20 * mm;
            probe.elements[0].normal = direction_at(angle);
            const TransmittedField field = field_of(probe);
            for (const Vec3& place :
                 {Vec3(0, 0, 0.15 * mm), Vec3(0.25 * mm, 0, 0.2 * mm), Vec3(0.4 * mm, 3 * mm, 0.3 * mm),
                  Vec3(2 * mm, 1 * mm, 1 * mm), Vec3(0, 0, 20 * mm), Vec3(30 * mm, 0, 40 * mm), Vec3(0, 8 * mm, 4 * mm),
                  Vec3(10 * mm, 2 * mm, 120 * mm)}) {
                const Vec3 point = place.x() * Vec3(std::cos(angle), 0, -std::sin(angle)) + Vec3(0, place.y(), 0) +
                                   place.z() * direction_at(angle);
                const Complex want = by_panels(probe, point, 60);
                // Beside the field on the axis at this distance.
                const double size = std::min(1.0, 1.5 * mm * mm * 5e6 / c / place.norm() * 2.0);
                EXPECT_LT(std::abs(field.at(point) - want), 1e-6 * size) << place.transpose() << " at " << angle;
            }
        }
    }
}

TEST(Field, AttenuationFollowsThePath) {
    const Medium lossy{.attenuation_dB_cm_MHz = 0.5};
    const Probe probe = disc(5 * mm, 3e6);
    const TransmittedField field = field_of(probe, all_at_once(probe), lossy);
    const Complex gamma(lossy.attenuation_Np_m(3e6), 2.0 * pi * 3e6 / c);
    for (const double z : {10 * mm, 60 * mm}) {
        // The closed form on the axis holds for a complex wavenumber as well.
        const Complex want =
            Complex(0.0, gamma.imag()) / gamma * (std::exp(-gamma * z) - std::exp(-gamma * std::hypot(z, 5 * mm)));
        EXPECT_LT(std::abs(field.at(Vec3(0, 0, z)) - want), 1e-8);
    }
}

// Last axial maximum a^2 / lambda - lambda / 4 (Kinsler, as above), which D^2 / (4 lambda) is near enough to.
TEST(Field, NearZoneOfADisc) {
    for (const double MHz : {3.0, 5.0}) {
        const Probe probe = disc(5 * mm, MHz * 1e6);
        const TransmittedField field = field_of(probe);
        const double lambda = c / (MHz * 1e6);
        const auto last = last_axial_maximum_m(field, straight, 1 * mm, 300 * mm);
        ASSERT_TRUE(last);
        EXPECT_NEAR(*last, 25 * mm * mm / lambda - lambda / 4.0, 1e-6 * *last);
        EXPECT_NEAR(*last, MHz == 3.0 ? 48.5730 * mm : 81.0918 * mm, 1e-6);
        EXPECT_NEAR(field.amplitude(Vec3(0, 0, *last)), 2.0, 1e-9);
        EXPECT_NEAR(near_zone_m(aperture_of(probe), lambda), *last, 0.003 * *last);
    }
}

// A square has its last axial maximum at 1.37 times D^2 / (4 lambda), as handbooks of testing materials say (from
// memory): the strip's constant, for its axis is a product of two strips'. Paraxial, hence the tolerance.
TEST(Field, NearZoneOfASquareAndALongStrip) {
    const double lambda = c / 5e6;
    const Probe square = rectangle(10 * mm, 10 * mm, 5e6);
    EXPECT_NEAR(near_zone_m(aperture_of(square), lambda), 1.37 * 100 * mm * mm / (4.0 * lambda), 0.005 * 111 * mm);
    EXPECT_NEAR(*last_axial_maximum_m(field_of(square), straight, 5 * mm, 400 * mm),
                near_zone_m(aperture_of(square), lambda), 0.005 * 111 * mm);

    // A strip without ends: 80 mm high, fading smoothly to nothing, lest the waves of its ends ripple the axis.
    Probe strip = probe_of(flat_face(1, 5 * mm, 5 * mm, 320, 0.25 * mm, 0.25 * mm), 5e6);
    strip.pitch_m = 5 * mm;
    strip.rows = 320;
    TransmitEvent event = all_at_once(strip);
    for (std::size_t row = 0; row < 320; ++row) {
        event.weight[row] = std::pow(std::sin(pi * (static_cast<double>(row) + 0.5) / 320.0), 2);
    }
    const TransmittedField field = field_of(strip, event);
    const double last = *last_axial_maximum_m(field, straight, 5 * mm, 80 * mm);
    // 1.3422 in the Fresnel integrals: sqrt(2) |C(v) + j S(v)| at v = 1.2094 (Abramowitz & Stegun ch. 7, from memory;
    // recomputed with SciPy by tests/published/recompute_pistons.py).
    EXPECT_NEAR(last, strip_near_zone * 25 * mm * mm / lambda, 0.005 * last);
    EXPECT_NEAR(field.amplitude(Vec3(0, 0, last)), 1.3421685, 2e-3);
    // Without the Fresnel approximation: the integral of Hankel functions H0(2) over the strip, by SciPy in that
    // script.
    EXPECT_NEAR(last, 27.6808 * mm, 1e-3 * last);
    EXPECT_NEAR(field.amplitude(Vec3(0, 0, last)), 1.3425461, 1e-3);
}

// Far field of a disc 2 J1(x) / x: first null at sin(theta) = 1.219670 lambda / D, half amplitude at 0.705085; of a
// strip sin(x) / x: null at 1, half amplitude at 0.603355. Kinsler, as above; recomputed by
// tests/published/recompute_pistons.py and recompute_arrays.py.
TEST(Field, Divergence) {
    const double lambda = c / 3e6;
    const Probe round = disc(5 * mm, 3e6);
    const TransmittedField field = field_of(round);
    const double ahead = field.far_amplitude_m(0.0);
    EXPECT_LT(field.far_amplitude_m(std::asin(1.219670 * lambda / (10 * mm))) / ahead, 1e-6);
    const auto half_angle = far_half_angle_rad(field, aperture_of(round), straight);
    ASSERT_TRUE(half_angle);
    EXPECT_NEAR(std::sin(*half_angle), 0.705085 * lambda / (10 * mm), 1e-6);
    EXPECT_NEAR(*half_angle, *theory_half_angle_rad(aperture_of(round), lambda), 1e-6);

    const Probe row = probe_of(flat_face(64, 0.3 * mm, 0.3 * mm, 1, 0.0, 6 * mm), 3e6);
    const TransmittedField beam = field_of(row);
    Probe spaced = row;
    spaced.pitch_m = 0.3 * mm;
    EXPECT_NEAR(std::sin(*far_half_angle_rad(beam, aperture_of(spaced), straight)), 0.603355 * lambda / (19.2 * mm),
                1e-6);
    EXPECT_LT(beam.far_amplitude_m(std::asin(lambda / (19.2 * mm))) / beam.far_amplitude_m(0.0), 1e-9);
}

TEST(Field, FarFieldIsWhatTheNearFieldBecomes) {
    Probe curved = probe_of(curved_face(24, 40 * mm, 0.5 * mm, 0.45 * mm, 8 * mm), 3.5e6);
    curved.radius_m = 40 * mm;
    curved.pitch_m = 0.5 * mm;
    curved.elevation_focus_m = 60 * mm;
    curved.baffle = Baffle::soft;
    for (const Probe& probe : {curved, disc(5 * mm, 3e6)}) {
        const TransmittedField field = field_of(probe);
        for (const double angle : {0.0, 0.05, 0.3}) {
            const double away_m = 1000.0;
            EXPECT_NEAR(field.amplitude(away_m * direction_at(angle)) * away_m, field.far_amplitude_m(angle),
                        1e-4 * field.far_amplitude_m(0.0));
        }
    }
}

TEST(Field, HigherFrequencyAndLargerApertureBothNarrowAndReachFarther) {
    const auto reach = [](double radius_m, double Hz) {
        return *last_axial_maximum_m(field_of(disc(radius_m, Hz)), straight, 2 * mm, 1.0);
    };
    const auto angle = [](double radius_m, double Hz) {
        const Probe probe = disc(radius_m, Hz);
        return *far_half_angle_rad(field_of(probe), aperture_of(probe), straight);
    };
    EXPECT_NEAR(reach(10 * mm, 3e6) / reach(5 * mm, 3e6), 4.0, 0.02);
    EXPECT_NEAR(reach(5 * mm, 6e6) / reach(5 * mm, 3e6), 2.0, 0.01);
    EXPECT_NEAR(angle(10 * mm, 3e6) / angle(5 * mm, 3e6), 0.5, 1e-3);
    EXPECT_NEAR(angle(5 * mm, 6e6) / angle(5 * mm, 3e6), 0.5, 1e-3);
}

/// Many thin rings with focusing delays, nearly a bowl's continuous phase.
struct FocusedDisc {
    Probe probe;
    TransmitEvent event;
};
FocusedDisc focused_disc(double radius_m, double focus_m) {
    FocusedDisc made{probe_of(ring_face(equal_area_edges(200, radius_m, 0.0)), 5e6), {}};
    made.event = swept_event(made.probe, HeadMotion{}, {focus_m, 200, {}}, 0.0, c);
    return made;
}

// At a low Fresnel number the pressure is highest in front of the focus: 40 mm, 5 MHz, exact distances, recomputed by
// quadrature of the focused disc in tests/published/recompute_pistons.py (F/2: 39.25 mm; F/4: 32.39 mm, 3 dB less at
// 24.86 and 48.08 mm).
TEST(Field, FocusFallsShortAtLowFresnelNumbers) {
    const FocusedDisc open = focused_disc(10 * mm, 40 * mm);
    const FocusedDisc narrow = focused_disc(5 * mm, 40 * mm);
    const TransmittedField field = field_of(narrow.probe, narrow.event);
    EXPECT_NEAR(*last_axial_maximum_m(field_of(open.probe, open.event), straight, 36 * mm, 44 * mm), 39.25 * mm,
                0.02 * mm);
    const double peak_m = *last_axial_maximum_m(field, straight, 26 * mm, 60 * mm);
    EXPECT_NEAR(peak_m, 32.39 * mm, 0.02 * mm);
    for (const double z : {24.86 * mm, 48.08 * mm}) {
        EXPECT_NEAR(field.amplitude(Vec3(0, 0, z)) / field.amplitude(Vec3(0, 0, peak_m)), std::sqrt(0.5), 2e-3) << z;
    }
}

// Width at the focus, half amplitude, one way: 1.4101 lambda F# for a disc (Airy), 1.4414 with exact distances at F/2;
// 1.2067 lambda F# for a row of elements, 1.2116 with exact distances at F/4.17. Recomputed by
// tests/published/recompute_pistons.py and recompute_arrays.py.
TEST(Field, WidthAtTheFocus) {
    const double lambda = c / 5e6;
    const FocusedDisc round = focused_disc(10 * mm, 40 * mm);
    const auto edges =
        beam_edges(field_of(round.probe, round.event), beam_aperture(round.probe, round.event), straight, 40 * mm);
    EXPECT_NEAR(edges->width_m() / (2.0 * lambda), 1.4414, 0.002);
    EXPECT_NEAR(edges->left_m, -edges->right_m, 1e-8);

    Probe row = probe_of(flat_face(64, 0.3 * mm, 0.1 * mm, 1, 0.0, 0.3 * mm), 5e6);
    row.pitch_m = 0.3 * mm;
    const double focus_m = 4.17 * 19.2 * mm;
    const TransmitEvent event = focused_event(row, {focus_m, 64, {}}, {}, c);
    const auto width = beam_edges(field_of(row, event), beam_aperture(row, event), straight, focus_m)->width_m();
    EXPECT_NEAR(width / (4.17 * lambda), 1.2116, 0.004);
}

TEST(Field, AHeadThatLooksAsideTurnsItsField) {
    const Probe probe = disc(5 * mm, 3e6);
    const HeadMotion head{12 * mm, 300.0};
    TransmitEvent event = swept_event(probe, head, {40 * mm, 1, {}}, 0.4, c);
    event.delay_s[0] = 0.0;
    const TransmittedField turned(probe, head, event, Medium{}, 3e6);
    const TransmittedField still = field_of(probe);
    const BeamAxis axis = beam_axis(event);
    for (const double across : {0.0, 1 * mm, -3 * mm}) {
        EXPECT_NEAR(turned.amplitude(axis.point(30 * mm, across)), still.amplitude(Vec3(across, 0, 30 * mm)), 1e-10);
    }
    EXPECT_NEAR(turned.far_amplitude_m(0.45), still.far_amplitude_m(0.05), 1e-12);
}

TEST(Field, UnfocusedFiresAtOnceStraightAhead) {
    Probe probe = probe_of(curved_face(24, 40 * mm, 0.5 * mm, 0.45 * mm, 8 * mm), 3.5e6);
    probe.radius_m = 40 * mm;
    probe.pitch_m = 0.5 * mm;
    const FacePlace place = face_place(probe, 2 * mm);
    const TransmitEvent focused =
        focused_event(probe, {50 * mm, 12, {}}, {2 * mm, place.origin_m, direction_at(0.3)}, c);
    const TransmitEvent plain = unfocused(probe, std::nullopt, focused);
    EXPECT_EQ(plain.weight, focused.weight);
    EXPECT_EQ(plain.delay_s, std::vector<double>(24, 0.0));
    EXPECT_LT((plain.direction - place.normal).norm(), 1e-15);
    EXPECT_NEAR(beam_aperture(probe, plain).width_m, 6 * mm, 1e-12);
    EXPECT_FALSE(beam_aperture(probe, plain).plain);
}

TEST(Field, SameBitsOnAnyNumberOfThreads) {
    Probe probe = probe_of(flat_face(16, 0.3 * mm, 0.27 * mm, 1, 0.0, 5 * mm), 5e6);
    std::vector<Vec3> points;
    for (int i = 0; i < 500; ++i) {
        points.emplace_back((i % 20 - 10) * 0.3 * mm, 0.0, (1 + i / 20) * mm);
    }
    const TransmittedField field = field_of(probe);
    const int before = omp_get_max_threads();
    omp_set_num_threads(1);
    const std::vector<double> alone = field.amplitudes(points);
    omp_set_num_threads(7);
    EXPECT_EQ(field.amplitudes(points), alone);
    omp_set_num_threads(before);
}

}  // namespace
}  // namespace echoloom
