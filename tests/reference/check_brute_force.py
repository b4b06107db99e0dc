"""Holds the brute-force oracle itself against closed forms and against integrals written another way.

"Recomputed" numbers are those of tests/published/recompute_pistons.py, or of the script named beside them.
"""

import unittest

import numpy as np
from scipy.integrate import dblquad, quad
from scipy.spatial.transform import Rotation
from scipy.special import wofz

from brute_force import Array, GaussianPulse, Head, Medium, NEPER_dB, Synthesis, element_response, lens_delay_s, self_check
from closed_forms import (disc_impulse_response, rectangle_impulse_response, transform_of_disc,
                          transform_of_impulse_response)

MM = 1e-3
C = 1540.0


def flat(width_mm=0.3, height_mm=5.0, soft=False, focus_mm=np.inf):
    return Array(np.zeros((1, 3)), np.array([[0, 0, 1.0]]), np.array([[width_mm, height_mm]]) * MM, soft, focus_mm * MM)


def response(array, point_mm, f, medium=Medium(), reference_Hz=5e6):
    return element_response(array, 0, np.array(point_mm, float) * MM, medium, reference_Hz, [f])[0]


class Rectangle(unittest.TestCase):
    """Element 0.3 mm x 5 mm, c = 1540 m/s. Closed form: J. C. Lockwood & J. G. Willette, J. Acoust. Soc. Am. 53, 735-741,
    1973 (from memory); numbers recomputed by quadrature and by geometry."""

    def test_transforms(self):
        known = [((0, 0, 20), 1e6, 1.159503295410e-05 - 1.515893429294e-06j),
                 ((0, 0, 20), 5e6, 6.368904912307e-06 - 3.776243477463e-06j),
                 ((0, 0, 2), 5e6, -1.215879059409e-05 + 1.168571641469e-05j),
                 ((0.15, 2.5, 10), 5e6, -2.985306279887e-06 + 2.257436845894e-06j),
                 ((5, 0, 20), 5e6, 5.893903694248e-06 - 3.263516900126e-06j)]
        for point, f, expected in known:
            self.assertLess(abs(response(flat(), point, f) - expected), 1e-9 * abs(expected), (point, f))

    def test_impulse_response_table(self):
        on_axis = [(12.987114417, 1540), (12.988027289, 630.982305), (12.992084497, 266.345977),
                   (12.997156008, 187.143152), (13.007299028, 131.899911), (13.027585070, 93.089768),
                   (13.047871111, 75.939659), (13.068157153, 65.723566), (13.083371684, 60.287315)]
        aside = [(13.363562216, 9.693229), (13.364868517, 30.617550), (13.370674298, 68.117676),
                 (13.377931524, 95.734961), (13.392445976, 133.753616), (13.421474880, 106.535385),
                 (13.450503784, 74.384999), (13.479532688, 39.159583), (13.501304366, 9.060291)]
        for point, table in (((0, 0, 20), on_axis), ((5, 0, 20), aside)):
            for t_us, expected in table:
                h = float(rectangle_impulse_response(np.array(point) * MM, 0.3 * MM, 5 * MM, C, t_us * 1e-6))
                # The times are printed to 1e-15 s; where h rises steeply that rounding alone moves it.
                nearby = rectangle_impulse_response(np.array(point) * MM, 0.3 * MM, 5 * MM, C,
                                                    t_us * 1e-6 + np.array([-1, 1]) * 0.5e-15)
                self.assertLess(abs(h - expected), 1e-6 * expected + np.ptp(nearby), (point, t_us))

    def test_surface_integral_is_the_transform_of_the_closed_form(self):
        worst = 0.0
        for point in [(0, 0, 2), (0.4, 1, 3), (2, 4, 5), (0, 0, 20), (5, 0, 20), (17, 1, 10), (30, 10, 60), (80, 5, 120)]:
            for f in (0.7e6, 5e6, 9e6, 14e6):
                for soft in (False, True):
                    exact = transform_of_impulse_response(np.array(point) * MM, 0.3 * MM, 5 * MM, C, f, soft)
                    got = response(flat(soft=soft), point, f)
                    worst = max(worst, abs(got - exact) / abs(exact))
        print(f"rectangle, surface integral against closed form: worst relative difference {worst:.1e}")
        self.assertLess(worst, 1e-9)


class AnotherQuadrature(unittest.TestCase):
    def test_adaptive_double_integral(self):
        """scipy.integrate.dblquad with lens, attenuation, dispersion, soft baffle and a tilted element."""
        medium = Medium(1540, 0.7, 1.1, True)
        tilt = np.radians(20)
        array = Array(np.array([[1.0, 0.2, 0.3]]) * MM, np.array([[np.sin(tilt), 0, np.cos(tilt)]]),
                      np.array([[0.25, 3.0]]) * MM, True, 20 * MM)
        lateral, elevation = np.array([np.cos(tilt), 0, -np.sin(tilt)]), np.array([0, 1.0, 0])
        for point in ([4.0, 1.5, 8.0], [-3.0, -2.0, 30.0]):
            s = np.array(point) * MM
            for f in (2e6, 6e6):
                k = 2 * np.pi * f * medium.slowness_s_m(f, 5e6)
                alpha = 0.7 * (f / 1e6) ** 1.1 * 100 / NEPER_dB

                def integrand(y, x):
                    q = array.center_m[0] + x * lateral + y * elevation
                    R = np.linalg.norm(s - q)
                    lens = -(np.sqrt((20 * MM) ** 2 + y * y) - 20 * MM) / 1540
                    return (np.dot(array.normal[0], s - q) / R * np.exp(-1j * (k * R + 2 * np.pi * f * lens) - alpha * R)
                            / (2 * np.pi * R))

                parts = [dblquad(lambda y, x, part=part: getattr(integrand(y, x), part), -0.125 * MM, 0.125 * MM,
                                 -1.5 * MM, 1.5 * MM, epsabs=1e-15, epsrel=1e-9)[0] for part in ("real", "imag")]
                exact = complex(*parts)
                got = response(array, point, f, medium)
                self.assertLess(abs(got - exact), 1e-7 * abs(exact), (point, f))

    def test_more_nodes_change_nothing_and_carrying_in_frequency_is_exact(self):
        hard = Medium(1540, 0.7, 1.1, True)
        for medium in (Medium(), Medium(1540, 0.5), hard):
            synthesis = Synthesis(flat(focus_mm=20), medium, GaussianPulse(9e6, 0.7), 0.0, 40e6, 200)
            for point in [(0, 0, 2), (3, 2, 2), (10, 7, 20), (0, 0, 150), (100, 20, 60)]:
                s = np.array(point, float) * MM
                coarse, fine = (element_response(synthesis.array, 0, s, medium, 9e6, [1e6, 9e6, 24e6], refine)
                                for refine in (1.0, 1.6))
                self.assertLess(np.abs(coarse - fine).max(), 1e-10 * np.abs(fine).max(), point)
                self.assertLess(self_check(synthesis, 0, s), 1e-9, point)


def ring(inner_mm, outer_mm):
    return Array(np.zeros((1, 3)), np.array([[0, 0, 1.0]]), np.array([[2.0, 2.0]]) * outer_mm * MM,
                 ring_m=np.array([[inner_mm, outer_mm]]) * MM)


class Disc(unittest.TestCase):
    """Radius 5 mm, c = 1540 m/s, rigid baffle. Impulse response: F. Oberhettinger, J. Res. NBS 65B(1), 1-6, 1961; P. R.
    Stepanishen, J. Acoust. Soc. Am. 49, 1629-1638, 1971 (from memory); numbers recomputed by quadrature and by geometry."""

    def test_pressure_on_axis(self):
        """2 |sin(k / 2 (sqrt(z^2 + a^2) - z))|: L. E. Kinsler et al., Fundamentals of Acoustics, 4th ed., 2000, sec. 7.4
        (from memory; numbers recomputed). |p| / (rho c v) = k |G|."""
        depths = [5, 10, 20, 100]
        known = {3e6: [0.216643588256, 1.615679750183, 1.170892970749, 1.384382297752],
                 5e6: [1.523883856354, 1.005767601743, 0.009626127322, 1.912674281541]}
        for f, pressures in known.items():
            k = 2 * np.pi * f / C
            for z, expected in zip(depths, pressures):
                got = response(ring(0, 5), (0, 0, z), f)
                self.assertAlmostEqual(k * abs(got), expected, delta=2e-11)
                exact = np.exp(-1j * k * z * MM) - np.exp(-1j * k * np.hypot(z, 5) * MM)
                self.assertLess(abs(1j * k * got - exact), 2e-11, (z, f))

    def test_last_maximum_and_zeros(self):
        """Maxima at (a^2 - ((n + 1/2) lambda)^2) / ((2 n + 1) lambda), the last at a^2 / lambda - lambda / 4; zeros at
        (a^2 - (n lambda)^2) / (2 n lambda); source as above."""
        for f, maxima, zeros in ((3e6, (48.5730, 15.8488), (24.0940, 11.6620)), (5e6, (81.0918, 26.8253), (40.4304, 19.9842))):
            k = 2 * np.pi * f / C
            for z in maxima:
                self.assertAlmostEqual(k * abs(response(ring(0, 5), (0, 0, z), f)), 2.0, delta=1e-7)
            for z in zeros:
                self.assertLess(k * abs(response(ring(0, 5), (0, 0, z), f)), 1e-4)

    def test_values_off_axis(self):
        for r, expected in ((0, 8.881495594395e-05 - 3.553884848658e-05j), (3, 3.786553730071e-05 - 7.589213806212e-05j)):
            self.assertLess(abs(response(ring(0, 5), (r, 0, 20), 3e6) - expected), 1e-11 * abs(expected) + 1e-17)
            turned = response(ring(0, 5), (-0.6 * r, 0.8 * r, 20), 3e6)
            self.assertLess(abs(turned - expected), 1e-11 * abs(expected) + 1e-17)

    def test_impulse_response_table(self):
        table = {3: [1, 0.692264815935, 0.341962389086, 0, 0],
                 5: [0.471484254900, 0.414828961416, 0.307847763158, 0.202061597423, 0],
                 8: [0, 0, 0.213083112654, 0.201645249272, 0.116905545949]}
        for r, heights in table.items():
            h = disc_impulse_response(r * MM, 20 * MM, 5 * MM, C, np.array([13.0, 13.1, 13.5, 14.0, 15.0]) * 1e-6) / C
            self.assertLess(np.abs(h - heights).max(), 1e-11)

    def test_surface_integral(self):
        """int h dt = int dS / (2 pi R): the response at no frequency."""
        for r, expected in ((3, 6.0920e-4), (8, 5.7418e-4)):
            self.assertAlmostEqual(response(ring(0, 5), (r, 0, 20), 1e-3).real, expected, delta=5e-9)

    def test_surface_integral_is_the_transform_of_the_closed_form(self):
        worst = 0.0
        for r, z in [(0, 2), (0, 20), (1, 5), (3, 20), (4.9, 5), (5, 5), (5, 20), (5, 120), (5.1, 3), (8, 20), (20, 20), (80, 100)]:
            for f in (0.7e6, 3e6, 7e6, 13e6):
                exact = transform_of_disc(r * MM, z * MM, 5 * MM, C, f)
                got = response(ring(0, 5), (r, 0, z), f)
                # Where the face cancels itself the error is one of the whole face, 1 / R over it.
                whole = max(abs(exact), 1e-4 * response(ring(0, 5), (r, 0, z), 1e-3).real)
                worst = max(worst, abs(got - exact) / whole)
        print(f"disc, surface integral against closed form: worst relative difference {worst:.1e}")
        self.assertLess(worst, 1e-8)


class Ring(unittest.TestCase):
    """A ring is a disc less a disc (numbers recomputed by direct quadrature)."""

    def test_values(self):
        hollow = ring(3, 5)
        k = 2 * np.pi * 3e6 / C
        self.assertAlmostEqual(k * abs(response(hollow, (0, 0, 20), 3e6)), 1.354335061, delta=1e-9)
        for r, z, expected in ((0, 20, 1.106485480072e-04), (2, 20, 5.746874528859e-05), (4, 20, 5.038053303317e-05),
                               (7, 15, 1.419623981325e-05)):
            self.assertLess(abs(abs(response(hollow, (r, 0, z), 3e6)) / expected - 1), 1e-10)
            exact = transform_of_disc(r * MM, z * MM, 5 * MM, C, 3e6) - transform_of_disc(r * MM, z * MM, 3 * MM, C, 3e6)
            self.assertLess(abs(response(hollow, (r, 0, z), 3e6) - exact), 1e-9 * abs(exact))

    def test_on_axis_in_a_lossy_medium(self):
        """With K = attenuation + j k the integral on axis is (exp(-K R_in) - exp(-K R_out)) / K."""
        for medium in (Medium(1540, 0.5), Medium(1540, 0.7, 1.1, True)):
            for f in (1e6, 5e6, 12e6):
                K = medium.attenuation_Np_m(f) + 2j * np.pi * f * medium.slowness_s_m(f, 5e6)
                for z in (3, 20, 120):
                    exact = (np.exp(-K * np.hypot(z, 3) * MM) - np.exp(-K * np.hypot(z, 5) * MM)) / K
                    got = response(ring(3, 5), (0, 0, z), f, medium)
                    self.assertLess(abs(got - exact), 1e-10 * abs(exact), (medium, f, z))

    def test_adaptive_double_integral_off_axis(self):
        """scipy.integrate.dblquad, tilted ring, attenuation and dispersion."""
        medium = Medium(1540, 0.7, 1.1, True)
        tilt = np.radians(25)
        normal = np.array([np.sin(tilt), 0, np.cos(tilt)])
        array = Array(np.array([[1.0, 0.2, 0.3]]) * MM, normal[None], np.array([[2.4, 2.4]]) * MM,
                      ring_m=np.array([[0.7, 1.2]]) * MM)
        lateral, elevation = np.array([np.cos(tilt), 0, -np.sin(tilt)]), np.array([0, 1.0, 0])
        for point in ([4.0, 1.5, 8.0], [1.5, 0.3, 4.0]):
            s = np.array(point) * MM
            for f in (2e6, 6e6):
                K = medium.attenuation_Np_m(f) + 2j * np.pi * f * medium.slowness_s_m(f, 5e6)

                def integrand(rho, phi):
                    R = np.linalg.norm(s - array.center_m[0] - rho * (np.cos(phi) * lateral + np.sin(phi) * elevation))
                    return np.exp(-K * R) / (2 * np.pi * R) * rho

                parts = [dblquad(lambda rho, phi, part=part: getattr(integrand(rho, phi), part), 0, 2 * np.pi, 0.7 * MM,
                                 1.2 * MM, epsabs=1e-15, epsrel=1e-9)[0] for part in ("real", "imag")]
                exact = complex(*parts)
                self.assertLess(abs(response(array, point, f, medium) - exact), 1e-7 * abs(exact), (point, f))

    def test_more_nodes_change_nothing_and_carrying_in_frequency_is_exact(self):
        for medium in (Medium(), Medium(1540, 0.5), Medium(1540, 0.7, 1.1, True)):
            synthesis = Synthesis(ring(4, 6), medium, GaussianPulse(5e6, 0.6), 0.0, 40e6, 200)
            for point in [(0, 0, 5), (6, 0, 5), (5, 0, 2), (20, 7, 20), (1, 0, 120), (85, 0, 85)]:
                s = np.array(point, float) * MM
                coarse, fine = (element_response(synthesis.array, 0, s, medium, 5e6, [1e6, 5e6, 13e6], refine)
                                for refine in (1.0, 1.6))
                self.assertLess(np.abs(coarse - fine).max(), 1e-10 * np.abs(fine).max(), point)
                self.assertLess(self_check(synthesis, 0, s), 1e-9, point)


class RotatingHead(unittest.TestCase):
    """What sim/recording/format.md says of /probe/head."""

    def test_looks_along_z_and_turns_towards_x(self):
        head = Head(12 * MM, 100.0, np.radians([0.0, 30.0, -20.0]))
        point = np.array([3.0, 1.0, 40.0]) * MM
        np.testing.assert_allclose(head.seen(0.0, point), point, atol=1e-17)
        for angle in head.angle_rad:
            normal = np.array([np.sin(angle), 0, np.cos(angle)])
            center = 12 * MM * normal - np.array([0, 0, 12 * MM])
            np.testing.assert_allclose(head.seen(angle, center + 25 * MM * normal), [0, 0, 25 * MM], atol=1e-16)
            # Turning about the axis changes no distance from it, nor between face and point.
            self.assertAlmostEqual(np.linalg.norm(head.seen(angle, point)), np.linalg.norm(point - center), delta=1e-16)

    def test_against_a_rotation_of_scipy(self):
        head = Head(12 * MM, 0.0, np.array([0.4]))
        axis, point = np.array([0, 0, -12 * MM]), np.array([7.0, -2.0, 30.0]) * MM
        turn = Rotation.from_rotvec([0, 0.4, 0])  # about +y: z towards x
        np.testing.assert_allclose(head.transmitted_to(0, point), turn.inv().apply(point - axis) + axis, atol=1e-16)

    def test_receives_from_where_it_is_when_the_echo_comes(self):
        """On a head about its own face's centre a point at range R is received 2 R / c later, turned by that much."""
        head = Head(0.0, 300.0, np.array([0.1]))
        point = 77 * MM * np.array([np.sin(0.1), 0, np.cos(0.1)])
        np.testing.assert_allclose(head.transmitted_to(0, point), [0, 0, 77 * MM], atol=1e-16)
        turned = 300.0 * 1e-4  # 2 x 77 mm / 1540 m/s = 100 us
        np.testing.assert_allclose(head.received_from(0, point, 1540.0), 77 * MM * np.array([-np.sin(turned), 0, np.cos(turned)]),
                                   atol=1e-15)
        still = Head(0.0, 0.0, np.array([0.1]))
        np.testing.assert_array_equal(still.received_from(0, point, 1540.0), still.transmitted_to(0, point))


class Directivity(unittest.TestCase):
    """Narrow strip: A. R. Selfridge, G. S. Kino, B. T. Khuri-Yakub, Appl. Phys. Lett. 37(1), 35-36, 1980 (from memory):
    sinc(w sin(theta) / lambda), times cos(theta) for a soft baffle. Numbers recomputed."""

    angles_deg = [10, 20, 30, 45, 60, 75]

    def pattern(self, width_mm, f, angle_deg, soft):
        # A strip so short in elevation, and seen from so far, that only its width directs it.
        array = flat(width_mm, 0.02, soft)
        at = lambda degrees: response(array, 1000 * np.array([np.sin(np.radians(degrees)), 0, np.cos(np.radians(degrees))]), f)
        return abs(at(angle_deg)) / abs(at(0.0))

    def test_table_at_one_metre(self):
        rigid = [.953602, .827186, .653052, .383271, .178112, .062522]
        soft = [.939115, .777301, .565560, .271013, .089056, .016182]
        for angle, hard_value, soft_value in zip(self.angles_deg, rigid, soft):
            self.assertAlmostEqual(self.pattern(0.3, 5e6, angle, False), hard_value, delta=2e-6)
            self.assertAlmostEqual(self.pattern(0.3, 5e6, angle, True), soft_value, delta=2e-6)

    def test_half_angles(self):
        known = [(0.5, False, 62.188, 3), (0.5, True, 49.896, 6), (0.5, True, 35.347, 3), (0.7, False, 59.535, 6),
                 (0.7, True, 42.157, 6), (1.0, False, 37.111, 6), (1.0, True, 32.327, 6), (1.5, True, 22.456, 6)]
        for wavelengths, soft, angle, level in known:
            value = self.pattern(wavelengths * C / 5e6 / MM, 5e6, angle, soft)
            self.assertAlmostEqual(value, {6: 0.5, 3: 10**-0.15}[level], delta=2e-5, msg=str((wavelengths, soft, level)))


class Lens(unittest.TestCase):
    def test_focus_is_where_all_paths_agree(self):
        """On axis at the focus of a line element R(y) + c tau(y) = F for every y, so only 1/R is left to integrate."""
        focus, half = 20 * MM, 2.5 * MM
        array = flat(0.001, 5, focus_mm=20)
        for f in (1e6, 5e6, 9e6):
            exact = 0.001 * MM * 2 * np.arcsinh(half / focus) / (2 * np.pi) * np.exp(-2j * np.pi * f * focus / C)
            self.assertLess(abs(response(array, (0, 0, 20), f) - exact), 1e-7 * abs(exact))

    def test_width_at_focus(self):
        """One-way 1.495 mm, two-way 1.097 mm half-amplitude widths for H = 5 mm, F = 20 mm at 5 MHz (cut recomputed by
        recompute_arrays.py); 1.2067 and 0.8859 lambda F / H by the paraxial formula (G. S. Kino, Acoustic Waves, 1987, from
        memory)."""
        y = np.linspace(0, 1.2, 241)
        cut = np.array([abs(response(flat(0.01, 5, focus_mm=20), (0, v, 20), 5e6)) for v in y])
        cut /= cut[0]
        width = lambda curve: 2 * np.interp(-0.5, -curve[:np.argmax(curve < 0.3)], y[:np.argmax(curve < 0.3)])
        print(f"elevation width at the lens focus: one-way {width(cut):.4f} mm, two-way {width(cut**2):.4f} mm")
        self.assertAlmostEqual(width(cut), 1.495, delta=0.005 * 1.495)
        self.assertAlmostEqual(width(cut**2), 1.097, delta=0.005 * 1.097)

    def test_advances_the_rim(self):
        self.assertLess(lens_delay_s(np.array([2.5 * MM]), 20 * MM, C)[0], 0.0)
        self.assertEqual(lens_delay_s(np.array([0.0]), 20 * MM, C)[0], 0.0)


class Dispersion(unittest.TestCase):
    """T. L. Szabo, J. Acoust. Soc. Am. 97, 14-24, 1995 (from memory); speeds recomputed by recompute_pulse.py."""

    def test_speeds(self):
        medium = Medium(1540, 0.5, 1.0, True)
        for f, speed in ((1e6, 1537.776975), (2e6, 1538.733593), (5e6, 1540.0), (10e6, 1540.959386)):
            self.assertAlmostEqual(float(medium.speed_m_s(f, 5e6)), speed, delta=1e-6)

    def test_law_is_continuous_at_power_one(self):
        f = np.array([1e6, 3e6, 12e6])
        near = Medium(1540, 0.5, 1 + 1e-7, True).speed_m_s(f, 5e6)
        self.assertLess(np.abs(near - Medium(1540, 0.5, 1.0, True).speed_m_s(f, 5e6)).max(), 1e-5)

    def test_square_law_has_none(self):
        f = np.array([1e6, 3e6, 12e6])
        self.assertLess(np.abs(Medium(1540, 0.5, 2.0, True).speed_m_s(f, 5e6) - 1540).max(), 1e-9)


class Time(unittest.TestCase):
    def test_against_summing_pulses_over_both_faces(self):
        """No frequencies at all: e(t - R1/c - R2/c) summed over transmit and receive faces, near the array, with lens."""
        array = Array(np.array([[0, 0, 0], [1.0, 0, 0]]) * MM, np.array([[0, 0, 1.0]] * 2), np.array([[0.25, 1.2]] * 2) * MM,
                      True, 4 * MM)
        pulse, medium = GaussianPulse(5e6, 0.6), Medium()
        point = np.array([0.7, 0.3, 2.0]) * MM
        synthesis = Synthesis(array, medium, pulse, 1.5e-6, 40e6, 120)
        got = synthesis.samples_of(synthesis.response(0, point) * synthesis.response(1, point))[0]

        def strips(e):
            node, weight = np.polynomial.legendre.leggauss(24)
            x, y = np.meshgrid(node * 0.125 * MM, node * 0.6 * MM)
            area = np.outer(weight, weight) * 0.125 * 0.6 * MM**2
            R = np.linalg.norm(np.stack([point[0] - array.center_m[e][0] - x, point[1] - y, 0 * x + point[2]]), axis=0)
            late = R / C - (np.hypot(4 * MM, y) - 4 * MM) / C
            return late.ravel(), (area * point[2] / R / (2 * np.pi * R)).ravel()

        (late_t, w_t), (late_r, w_r) = strips(0), strips(1)
        t = 1.5e-6 + np.arange(120) / 40e6
        expected = np.array([np.sum(np.outer(w_t, w_r) * pulse.time(now - late_t[:, None] - late_r)) for now in t])
        error = np.linalg.norm(got - expected) / np.linalg.norm(expected)
        print(f"time domain, near field, soft baffle, lens: relative difference {error:.1e}")
        self.assertLess(error, 1e-9)

    def test_attenuated_pulse_closed_form(self):
        """Zero-phase linear attenuation of a Gaussian: int_0^inf exp(-(f-f0)^2 / 2s^2 - A f + j 2 pi f t) df is a Faddeeva
        function. Holds the slow tail of the echo over a long record too."""
        f0, fraction, depth = 5e6, 0.6, 60 * MM
        medium, pulse = Medium(1540, 0.5), GaussianPulse(f0, fraction)
        tiny = Array(np.zeros((1, 3)), np.array([[0, 0, 1.0]]), np.array([[1e-7, 1e-7]]))
        synthesis = Synthesis(tiny, medium, pulse, 20e-6, 20e6, 4000)
        echo = synthesis.response(0, np.array([0, 0, depth])) ** 2
        got = synthesis.samples_of(echo)[0]
        t = 20e-6 + np.arange(4000) / 20e6 - 2 * depth / C
        A = 2 * depth * medium.attenuation_Np_m(1e6) * 1e-6  # nepers per hertz
        s = pulse.sigma_Hz
        # int_0^inf exp(-(f - f0)^2 / 2 s^2 - b f) df = s sqrt(pi/2) exp(-f0^2 / 2 s^2) w(j zeta), zeta = (b s - f0 / s) / sqrt 2
        b = A - 2j * np.pi * t
        both = 0.0  # the lobe at f0 and its mirror at -f0
        for sign in (1, -1):
            zeta = (b * s - sign * f0 / s) / np.sqrt(2)
            both = both + s * np.sqrt(np.pi / 2) * np.exp(-(f0 / s) ** 2 / 2) * wofz(1j * zeta)
        amplitude = (1e-14 / (2 * np.pi * depth)) ** 2
        expected = 2 * amplitude * pulse.sigma_s * np.sqrt(2 * np.pi) / 2 * both.real
        error = np.linalg.norm(got - expected) / np.linalg.norm(expected)
        tail = np.abs(t) > 20e-6
        tail_error = np.linalg.norm((got - expected)[tail]) / np.linalg.norm(expected[tail])
        print(f"attenuated pulse against closed form: relative difference {error:.1e}, in its tail alone {tail_error:.1e}")
        self.assertLess(error, 1e-8)
        self.assertLess(tail_error, 1e-6)

    def test_pulse_itself(self):
        """quad of E(f) gives e(t); half amplitude at f0 (1 +- B/2); envelope half-amplitude duration 0.882542 / (B f0)
        (recomputed by recompute_pulse.py)."""
        pulse = GaussianPulse(5e6, 0.6)
        self.assertAlmostEqual(pulse.sigma_s * 1e9, 124.9271, delta=1e-4)
        for t in (0.0, 80e-9, 210e-9):
            back = 2 * quad(lambda f: pulse.spectrum(f * 1e6) * 1e6 * np.cos(2 * np.pi * f * 1e6 * t), 0, 14, limit=200)[0]
            self.assertAlmostEqual(back, pulse.time(t), delta=1e-8)
        mirror = pulse.spectrum(np.array([5e6, 6.5e6, 3.5e6]))
        self.assertAlmostEqual(mirror[1] / mirror[0], 0.5, delta=1e-5)
        self.assertAlmostEqual(mirror[2] / mirror[0], 0.5, delta=1e-4)
        self.assertAlmostEqual(2 * np.sqrt(2 * np.log(2)) * pulse.sigma_s, 294.1808e-9, delta=1e-13)


if __name__ == "__main__":
    unittest.main(verbosity=2)
