"""Fields of discs, rings and rectangles in a rigid baffle, by summing over the face (the Rayleigh integral) and by geometry.

On the axis of a disc |p| / (rho c v) = 2 |sin((k / 2) (sqrt(z^2 + a^2) - z))|, with its zeros and maxima; in the far field 2 J1(x) / x:
L. E. Kinsler, A. R. Frey, A. B. Coppens & J. V. Sanders, Fundamentals of Acoustics, 4th ed. 2000, sec. 7.4 (from memory).
Impulse responses: F. Oberhettinger, J. Res. NBS 65B(1), 1-6, 1961, and P. R. Stepanishen, J. Acoust. Soc. Am. 49, 1629-1638,
1971 (disc); J. C. Lockwood & J. G. Willette, J. Acoust. Soc. Am. 53, 735-741, 1973 (rectangle; formulas from memory). Neither
formula is used here: h(t) is c / (2 pi) times the angle of the circle of radius sqrt(c^2 t^2 - z^2) that lies on the face, and
that is found edge by edge. H = integral of exp(-j k R) / (2 pi R) over the face, in metres.
"""

from fractions import Fraction

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import fresnel, hankel2, j1, jn_zeros

from quoted import Quoted

C = 1540.0
MM = 1e-3
NODE, WEIGHT = np.polynomial.legendre.leggauss(300)


def dB(ratio):
    return 20 * np.log10(ratio)


def wavenumber(f):
    return 2 * np.pi * f / C


def turned(z_mm, f):
    """exp(-j k z), whole turns taken out in whole numbers: with thirteen digits to hold, their rounding would show."""
    return np.exp(-2j * np.pi * float(Fraction(f) * Fraction(str(z_mm)) / 1540_000 % 1))


def ring(inner, outer, r, z, f, around=720):
    """H of a ring about the axis at (r, z), all in mm."""
    radius = (inner + (outer - inner) * (NODE[:, None] + 1) / 2) * MM
    angle = 2 * np.pi * (np.arange(around) + 0.5) / around
    aside = radius**2 + (r * MM)**2 - 2 * r * MM * radius * np.cos(angle)
    path = np.sqrt((z * MM)**2 + aside)
    area = WEIGHT[:, None] * (outer - inner) * MM / 2 * radius * 2 * np.pi / around
    beyond = aside / (path + z * MM)  # path less z
    return np.sum(area * np.exp(-1j * wavenumber(f) * beyond) / (2 * np.pi * path)) * turned(z, f)


def rectangle(width, height, point, f, soft=False):
    """H of a rectangle in the plane z = 0, all in mm."""
    x, y = np.meshgrid(NODE * width * MM / 2, NODE * height * MM / 2)
    z = point[2] * MM
    aside = (point[0] * MM - x)**2 + (point[1] * MM - y)**2
    path = np.sqrt(z**2 + aside)
    area = np.outer(WEIGHT, WEIGHT) * width * height * MM**2 / 4 * (z / path if soft else 1)
    return np.sum(area * np.exp(-1j * wavenumber(f) * aside / (path + z)) / (2 * np.pi * path)) * turned(point[2], f)


def hold_complex(quoted, what, value, real, imaginary, *files):
    quoted.hold(f"{what}, real", value.real, real, *files)
    quoted.hold(f"{'':{len(what)}}  imaginary", value.imag, imaginary, *files)


def disc(quoted):
    quoted.section("Disc of 5 mm radius: |p| / (rho c v) = k |H| on the axis")
    tests = ("engine/field_test.cpp", "published/arrays.py", "reference/check_brute_force.py")
    for f, row in ((3e6, ("0.216643588256", "1.615679750183", "1.170892970749", "1.384382297752")),
                   (5e6, ("1.523883856354", "1.005767601743", "0.009626127322", "1.912674281541"))):
        for z, digits in zip((5, 10, 20, 100), row):
            quoted.hold(f"{f / 1e6:.0f} MHz, z = {z} mm", wavenumber(f) * abs(ring(0, 5, 0, z, f)), digits, *tests)
    pressure = lambda z, f: wavenumber(f) * abs(ring(0, 5, 0, z, f, around=1))
    for f, maxima, zeros in ((3e6, ("48.5730", "15.8488"), ("24.0940", "11.6620")),
                             (5e6, ("81.0918", "26.8253"), ("40.4304", "19.9842"))):
        for kind, places, sign in (("maximum", maxima, -1), ("zero", zeros, 1)):
            for digits in places:
                at = float(digits)
                found = minimize_scalar(lambda z: sign * pressure(z, f)**2, bounds=(0.97 * at, 1.03 * at), method="bounded",
                                        options={"xatol": 1e-9}).x
                more = ("engine/field_test.cpp", "published/arrays.py") if digits in ("48.5730", "24.0940", "11.6620") else ()
                quoted.hold(f"{f / 1e6:.0f} MHz, {kind} (mm)", found, digits, "reference/check_brute_force.py", *more)
    quoted.section("Disc of 5 mm radius off its axis")
    tests = ("measure/ring_test.cpp", "engine/ring_response_test.cpp", "published/arrays.py", "reference/check_brute_force.py")
    hold_complex(quoted, "H at r = 0, z = 20 mm, 3 MHz (m)", ring(0, 5, 0, 20, 3e6), "8.881495594395e-05",
                 "-3.553884848658e-05", *tests)
    hold_complex(quoted, "H at r = 3, z = 20 mm, 3 MHz (m)", ring(0, 5, 3, 20, 3e6), "3.786553730071e-05",
                 "-7.589213806212e-05", *tests)
    for r, digits in ((3, "6.0920e-4"), (8, "5.7418e-4")):
        quoted.hold(f"H at r = {r}, z = 20 mm, no frequency (m)", ring(0, 5, r, 20, 0).real, digits,
                    "reference/check_brute_force.py")

    def share(r, a, sigma):
        """Of a circle about r that lies within a: up to the angle at which it leaves the disc."""
        outside = lambda angle: np.hypot(r - sigma * np.cos(angle), sigma * np.sin(angle)) - a
        if outside(np.pi) * outside(0) > 0:
            return float(outside(0) < 0)
        return brentq(outside, 0, np.pi, xtol=1e-15) / np.pi

    for r, row in ((3, ("1", "0.692264815935", "0.341962389086", "0", "0")),
                   (5, ("0.471484254900", "0.414828961416", "0.307847763158", "0.202061597423", "0")),
                   (8, ("0", "0", "0.213083112654", "0.201645249272", "0.116905545949"))):
        for t, digits in zip((13.0, 13.1, 13.5, 14.0, 15.0), row):
            quoted.hold(f"h / c at r = {r}, z = 20 mm, t = {t} us", share(r * MM, 5 * MM, np.sqrt((C * t * 1e-6)**2 - 4e-4)),
                        digits, "reference/check_brute_force.py")
    quoted.section("Ring from 3 to 5 mm, 3 MHz")
    tests = ("measure/ring_test.cpp", "published/arrays.py", "reference/check_brute_force.py")
    quoted.hold("|p| / (rho c v) at r = 0, z = 20 mm", wavenumber(3e6) * abs(ring(3, 5, 0, 20, 3e6)),
                "1.354335061", "engine/field_test.cpp", *tests[1:])
    for r, z, digits in ((0, 20, "1.106485480072e-04"), (2, 20, "5.746874528859e-05"), (4, 20, "5.038053303317e-05"),
                         (7, 15, "1.419623981325e-05")):
        quoted.hold(f"|H| at r = {r}, z = {z} mm (m)", abs(ring(3, 5, r, z, 3e6)), digits, *tests,
                    *(("engine/field_test.cpp",) if r else ()))


def far_field(quoted):
    quoted.section("Disc in the far field and at a focus: 2 J1(x) / x, x = pi D r / (lambda z)")
    airy = lambda x: 2 * j1(x) / x
    half = lambda level: brentq(lambda x: airy(x) - level, 0.01, 3.8, xtol=1e-14) / np.pi
    quoted.hold("first zero (j_1,1 / pi)", jn_zeros(1, 1)[0] / np.pi, "1.219669891", "measure/side_lobe_test.cpp",
                "published/arrays.py")
    quoted.hold("first zero", jn_zeros(1, 1)[0] / np.pi, "1.219670", "engine/field_test.cpp", "published/arrays.py")
    quoted.hold("half angle at 1/2, one-way", half(0.5), "0.705085", "engine/field_test.cpp", "published/arrays.py",
                "published/near_zone.py")
    quoted.hold("half angle at 1/2, two-way", half(np.sqrt(0.5)), "0.514497", "published/arrays.py")
    quoted.hold("half angle at 1/10, one-way", half(0.1), "1.088537", "published/arrays.py")
    quoted.hold("width at 1/2, one-way (lambda F#)", 2 * half(0.5), "1.410169689", "published/arrays.py")
    quoted.hold("width at 1/2, one-way", 2 * half(0.5), "1.41017", "measure/ring_test.cpp")
    quoted.hold("width at 1/2, two-way", 2 * half(np.sqrt(0.5)), "1.028993970", "measure/ring_test.cpp", "published/arrays.py",
                "measure/side_lobe_test.cpp")
    quoted.hold("width at 1/10, two-way", 2 * half(np.sqrt(0.1)), "1.738850", "measure/ring_test.cpp", "published/arrays.py")
    zeros = jn_zeros(2, 2)  # the slope of J1(x) / x is -J2(x) / x
    quoted.hold("second zero of J2: place of the first side lobe", zeros[0], "5.135622", "measure/side_lobe_test.cpp")
    quoted.hold("first side lobe, place (lambda F#)", zeros[0] / np.pi, "1.6347", "published/arrays.py")
    quoted.hold("second side lobe, place", zeros[1] / np.pi, "2.68", "published/arrays.py")
    quoted.hold("first side lobe, one-way (dB)", dB(abs(airy(zeros[0]))), "-17.570150", "published/arrays.py",
                "published/patterns.py")
    quoted.hold("first side lobe, two-way (dB)", 2 * dB(abs(airy(zeros[0]))), "-35.1403", "measure/side_lobe_test.cpp",
                "published/patterns.py")
    quoted.hold("second side lobe, one-way (dB)", dB(abs(airy(zeros[1]))), "-23.8112", "published/arrays.py")


def focused_disc(quoted):
    quoted.section("Disc with the delays that focus it at 40 mm, 5 MHz, distances exact, each part weakening as 1 / R")

    def focused(a, r, z, around=1):
        radius = a * (NODE[:, None] + 1) / 2
        path = np.sqrt(z * z + radius**2 + r * r - 2 * r * radius * np.cos(2 * np.pi * (np.arange(around) + 0.5) / around))
        phase = wavenumber(5e6) * (path - np.hypot(radius, 40 * MM))
        return abs(np.sum(WEIGHT[:, None] * radius * a / around * np.exp(-1j * phase) / path))

    unit = 2 * C / 5e6
    width = 2 * brentq(lambda u: focused(10 * MM, u * unit, 40 * MM, 400) / focused(10 * MM, 0, 40 * MM) - 0.5, 0.5, 0.9)
    quoted.hold("F/2: width at 1/2 at the focus (lambda F#)", width, "1.4414", "measure/ring_test.cpp", "engine/field_test.cpp",
                "published/arrays.py")
    for a, digits, tests in ((10 * MM, "39.25", ("engine/field_test.cpp",)),
                             (5 * MM, "32.39", ("engine/field_test.cpp", "published/near_zone.py"))):
        top = minimize_scalar(lambda z: -focused(a, 0, z), bounds=(25 * MM, 45 * MM), method="bounded",
                              options={"xatol": 1e-9}).x
        quoted.hold(f"F/{40 * MM / (2 * a):.0f}: highest on the axis at (mm)", top / MM, digits, *tests)
    level = lambda z: focused(5 * MM, 0, z) / focused(5 * MM, 0, top) - np.sqrt(0.5)
    for near, far, digits in ((20, 32, "24.86"), (33, 60, "48.08")):
        quoted.hold("F/4: 1/sqrt 2 of that at (mm)", brentq(level, near * MM, far * MM) / MM, digits, "engine/field_test.cpp")


def element(quoted):
    quoted.section("Rectangle of 0.3 by 5 mm: H (m)")
    three = ("engine/field_test.cpp", "engine/response_test.cpp", "reference/check_brute_force.py")
    for point, f, real, imaginary, tests in (
            ((0, 0, 20), 1e6, "1.159503295410e-05", "-1.515893429294e-06", three[1:]),
            ((0, 0, 20), 5e6, "6.368904912307e-06", "-3.776243477463e-06", three),
            ((0, 0, 2), 5e6, "-1.215879059409e-05", "1.168571641469e-05", three),
            ((0.15, 2.5, 10), 5e6, "-2.985306279887e-06", "2.257436845894e-06", three),
            ((5, 0, 20), 5e6, "5.893903694248e-06", "-3.263516900126e-06", three)):
        hold_complex(quoted, f"{point} mm, {f / 1e6:.0f} MHz", rectangle(0.3, 5, point, f), real,
                     imaginary, *tests)

    quoted.section("Rectangle of 0.3 by 5 mm: h(t) (m/s)")

    def response(point, t):
        """Angles at which the circle crosses the four edges' lines; each arc between two lies on the face or does not."""
        x, y, z = np.array(point) * MM
        sigma = np.sqrt((C * t)**2 - z**2)
        crossings = [0.0, 2 * np.pi]
        for edge in (-0.15 * MM - x, 0.15 * MM - x):
            if abs(edge) < sigma:
                crossings += [np.arccos(edge / sigma), 2 * np.pi - np.arccos(edge / sigma)]
        for edge in (-2.5 * MM - y, 2.5 * MM - y):
            if abs(edge) < sigma:
                crossings += [np.arcsin(edge / sigma) % (2 * np.pi), (np.pi - np.arcsin(edge / sigma)) % (2 * np.pi)]
        crossings = np.sort(crossings)
        middle = (crossings[1:] + crossings[:-1]) / 2
        on_face = (np.abs(x + sigma * np.cos(middle)) < 0.15 * MM) & (np.abs(y + sigma * np.sin(middle)) < 2.5 * MM)
        return C / (2 * np.pi) * np.sum(np.diff(crossings)[on_face])

    for point, table in (
            ((0, 0, 20), (("12.987114417", "1540"), ("12.988027289", "630.982305"), ("12.992084497", "266.345977"),
                          ("12.997156008", "187.143152"), ("13.007299028", "131.899911"), ("13.027585070", "93.089768"),
                          ("13.047871111", "75.939659"), ("13.068157153", "65.723566"), ("13.083371684", "60.287315"))),
            ((5, 0, 20), (("13.363562216", "9.693229"), ("13.364868517", "30.617550"), ("13.370674298", "68.117676"),
                          ("13.377931524", "95.734961"), ("13.392445976", "133.753616"), ("13.421474880", "106.535385"),
                          ("13.450503784", "74.384999"), ("13.479532688", "39.159583"), ("13.501304366", "9.060291")))):
        for t, digits in table:
            # A time is printed to 1e-15 s; half of that moves a steep response.
            around = [response(point, float(t) * 1e-6 + late) for late in (-0.5e-15, 0.5e-15)]
            quoted.hold(f"{point} mm, {t} us", response(point, float(t) * 1e-6), digits, "reference/check_brute_force.py",
                        within=0.5e-6 + abs(around[1] - around[0]))


def strip(quoted):
    quoted.section("Narrow strip, 0.3 mm at 5 MHz, seen from 1 m: relative to broadside")
    # sinc(w sin(angle) / lambda), soft baffle times cos(angle): A. R. Selfridge, G. S. Kino & B. T. Khuri-Yakub, Appl. Phys.
    # Lett. 37(1), 35-36, 1980 (from memory). Here by the sum over the strip.
    seen = lambda angle, soft: abs(rectangle(0.3, 0.02, (1000 * np.sin(angle), 0, 1000 * np.cos(angle)), 5e6, soft))
    for degrees, rigid, soft in ((10, ".953602", ".939115"), (20, ".827186", ".777301"), (30, ".653052", ".565560"),
                                 (45, ".383271", ".271013"), (60, ".178112", ".089056"), (75, ".062522", ".016182")):
        tests = ("reference/check_brute_force.py", *(("engine/response_test.cpp",) if degrees in (10, 30, 60) else ()))
        for words, digits in (("rigid", rigid), ("soft", soft)):
            value = seen(np.radians(degrees), words == "soft") / seen(0, words == "soft")
            quoted.hold(f"{degrees} deg, {words}", value, "0" + digits, *tests)
    minus_3_dB = 10**-0.15
    for wavelengths, soft, digits, level in ((0.5, False, "62.188", minus_3_dB), (0.5, True, "49.896", 0.5),
                                             (0.5, True, "35.347", minus_3_dB), (0.7, False, "59.535", 0.5),
                                             (0.7, True, "42.157", 0.5), (1.0, False, "37.111", 0.5),
                                             (1.0, True, "32.327", 0.5), (1.5, True, "22.456", 0.5)):
        pattern = lambda angle: np.sinc(wavelengths * np.sin(angle)) * (np.cos(angle) if soft else 1)
        angle = np.degrees(brentq(lambda angle: pattern(angle) - level, 0.05, 1.5))
        quoted.hold(f"{wavelengths} lambda wide, {'soft' if soft else 'rigid'}: {dB(level):.2f} dB at (deg)", angle, digits,
                    "reference/check_brute_force.py")


def near_zones(quoted):
    quoted.section("Near zones of strips: |C(v) + j S(v)|, M. Abramowitz & I. A. Stegun, ch. 7 (from memory), by SciPy")
    v = minimize_scalar(lambda v: -np.hypot(*fresnel(v)), bounds=(1.0, 1.5), method="bounded", options={"xatol": 1e-12}).x
    quoted.hold("v of the first maximum", v, "1.209378", "sim/engine/field_beam.h")
    quoted.hold("last maximum of a strip, z lambda / D^2 = 1 / (2 v^2)", 1 / (2 * v * v), "0.341858", "sim/engine/field_beam.h")
    quoted.hold("  beside the disc's D^2 / (4 lambda)", 2 / (v * v), "1.37", "engine/field_test.cpp",
                "published/near_zone.py")
    quoted.hold("pressure there, sqrt 2 |C + j S|", np.sqrt(2) * np.hypot(*fresnel(v)), "1.3421685", "engine/field_test.cpp")
    # Without the Fresnel approximation: |p| / (rho c v) = (k / 2) |integral of H0(2)(k R) over the strip|, 5 mm at 5 MHz.
    k = wavenumber(5e6)
    across = lambda z: k / 2 * abs(np.sum(WEIGHT * 2.5 * MM * hankel2(0, k * np.hypot(z, 2.5 * MM * NODE))))
    top = minimize_scalar(lambda z: -across(z), bounds=(22 * MM, 34 * MM), method="bounded", options={"xatol": 1e-10})
    quoted.hold("strip of 5 mm at 5 MHz, last maximum (mm)", top.x / MM, "27.6808", "engine/field_test.cpp")
    quoted.hold("  pressure there", -top.fun, "1.3425461", "engine/field_test.cpp")
    quoted.section("Disc of 4 mm radius at 5 MHz")
    quoted.hold("a^2 / lambda (mm)", 16 / 0.308, "51.948", "cli/test_beam.py")
    quoted.hold("a^2 / lambda - lambda / 4 (mm)", 16 / 0.308 - 0.077, "51.871", "cli/test_beam.py")
    quoted.hold("  one over the other", 1 - 0.077 / (16 / 0.308), "0.9985", "cli/test_beam.py")


def main():
    quoted = Quoted(__doc__)
    for part in (disc, far_field, focused_disc, element, strip, near_zones):
        part(quoted)
    quoted.finish()


if __name__ == "__main__":
    main()
