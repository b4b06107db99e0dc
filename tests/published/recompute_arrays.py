"""Beams of rows of point elements and of line apertures, by plain sums over elements and closed forms.

Line aperture in focus: sinc(D x / (lambda z)), two-way its square. G. S. Kino, Acoustic Waves, 1987, ch. 3; B. D. Steinberg,
Principles of Aperture and Array System Design, 1976; T. L. Szabo, Diagnostic Ultrasound Imaging, ch. 6 and 7 (all from
memory). Grating lobes: W. L. Stutzman & G. A. Thiele, Antenna Theory and Design, 2013, p. 307 (looked up). Widths beyond the
paraxial law, behind a wrong sound speed and across a lensed slice are in no book that we know: they are sums written here.
"""

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import fresnel

from quoted import Quoted

C, F0 = 1540.0, 5e6
LAMBDA = C / F0
MM = 1e-3


def dB(ratio):
    return 20 * np.log10(ratio)


def highest(pattern, from_u, to_u):
    return -minimize_scalar(lambda u: -pattern(u), bounds=(from_u, to_u), method="bounded", options={"xatol": 1e-10}).fun


def line_aperture(quoted):
    quoted.section("Line aperture: full widths in lambda F#, side lobes")
    width = lambda level: 2 * brentq(lambda u: np.sinc(u) - level, 0.05, 0.999, xtol=1e-14)
    everywhere = ("measure/theory_test.cpp", "measure/width_test.cpp", "published/arrays.py", "published/physics.py")
    quoted.hold("1/2, one-way", width(0.5), "1.206709129", *everywhere, "measure/side_lobe_test.cpp")
    quoted.hold("1/2, one-way", width(0.5), "1.2067", "measure/elevation_test.cpp", "measure/theory_test.cpp",
                "reference/check_brute_force.py", "beamform/grid_test.cpp", "beamform/line_test.cpp", "engine/field_test.cpp")
    quoted.hold("1/2, two-way (and 1/sqrt 2, one-way)", width(np.sqrt(0.5)), "0.885892941", "measure/theory_test.cpp",
                "measure/synthetic.h", "measure/side_lobe_test.cpp", "measure/width_test.cpp", "published/arrays.py",
                "published/physics.py")
    quoted.hold("1/2, two-way", width(np.sqrt(0.5)), "0.8859", "beamform/grid_test.cpp", "reference/check_brute_force.py")
    quoted.hold("1/sqrt 2, two-way", width(0.5**0.25), "0.637833397", "measure/theory_test.cpp")
    quoted.hold("1/10, one-way (main lobe)", width(0.1), "1.815857248", "measure/theory_test.cpp", "measure/width_test.cpp")
    quoted.hold("1/10, two-way", width(np.sqrt(0.1)), "1.476052869", "measure/theory_test.cpp", "measure/width_test.cpp")
    quoted.hold("half of that: half angle in the far field, u", width(0.5) / 2, "0.603355", "engine/field_test.cpp",
                "published/near_zone.py")
    pattern = lambda u: np.abs(np.sinc(u))
    # Where the slope vanishes: tan(pi u) = pi u.
    slope = lambda u: np.pi * u * np.cos(np.pi * u) - np.sin(np.pi * u)
    places = [brentq(slope, n + 0.1, n + 0.6, xtol=1e-14) for n in (1, 2, 3)]
    levels = [dB(pattern(place)) for place in places]
    quoted.hold("first side lobe, place u", places[0], "1.430296653", "measure/side_lobe_test.cpp", "published/physics.py")
    quoted.hold("first side lobe, place u", places[0], "1.4303", "measure/speckle_test.cpp")
    quoted.hold("first side lobe, one-way (dB)", levels[0], "-13.261459", "measure/side_lobe_test.cpp",
                "published/physics.py")
    quoted.hold("first side lobe, two-way (dB)", 2 * levels[0], "-26.522918", "measure/side_lobe_test.cpp",
                "published/physics.py")
    quoted.hold("second side lobe, one-way (dB)", levels[1], "-17.83", "measure/width_test.cpp")
    quoted.hold("third side lobe, one-way (dB)", levels[2], "-20.8", "measure/width_test.cpp")
    quoted.hold("1/10 beyond the second side lobe, u", brentq(lambda u: pattern(u) - 0.1, 2.5, 2.9), "2.681",
                "measure/width_test.cpp")


def few_elements(quoted):
    quoted.section("N point elements: full widths in lambda z / (N p), side lobes")
    for count, one_way, two_way, level in ((32, "1.207140", "0.886267", "-13.2329"), (64, "1.206817", "0.885986", "-13.2543"),
                                           (128, "1.206736", "0.885916", None)):
        pattern = lambda u: np.abs(np.exp(2j * np.pi * np.multiply.outer(u, np.arange(count)) / count).sum(-1)) / count
        width = lambda level: 2 * brentq(lambda u: pattern(u) - level, 0.05, 0.99, xtol=1e-13)
        quoted.hold(f"N = {count}: 1/2, one-way", width(0.5), one_way, "measure/theory_test.cpp")
        quoted.hold(f"N = {count}: 1/2, two-way", width(np.sqrt(0.5)), two_way, "measure/theory_test.cpp")
        if level:
            where = {32: ("published/arrays.py",), 64: ("published/patterns.py", "measure/speckle_test.cpp")}[count]
            quoted.hold(f"N = {count}: first side lobe (dB)", dB(highest(pattern, 1.01, 1.99)), level, *where)


def row_of(count=64, pitch=0.3 * MM):
    return (np.arange(count) - (count - 1) / 2) * pitch


def outer_width(curve, reach, step):
    """Between the outermost points at half of the greatest value; the curve is even."""
    places = np.arange(0, reach, step)
    values = np.array([curve(place) for place in places])
    top = places[np.argmax(values)]
    best = minimize_scalar(lambda x: -curve(x), bounds=(max(0, top - step), top + step), method="bounded",
                           options={"xatol": 1e-9})
    half = 0.5 * max(values.max(), -best.fun)
    last = np.flatnonzero(values >= half)[-1]
    return 2 * brentq(lambda x: curve(x) - half, places[last], places[last + 1], xtol=1e-12)


def beyond_paraxial(quoted):
    quoted.section("64 equal points 0.3 mm apart, 5 MHz alone, distances exact: width at 1/2 in lambda F#")
    x = row_of()
    for depth, one_way, two_way, more in ((80 * MM, "1.2116", "0.8897", "0.4"), (40 * MM, "1.2258", "0.9005", "1.6"),
                                          (20 * MM, "1.2796", "0.9417", "6")):
        focused = lambda off: abs(np.exp(2j * np.pi / LAMBDA * (np.hypot(x - off, depth) - np.hypot(x, depth))).sum())
        unit = LAMBDA * depth / (64 * 0.3 * MM)
        width = outer_width(focused, 1.2 * unit, 0.02 * unit) / unit
        tests = {80: ("published/patterns.py", "beamform/line_test.cpp"), 40: ("beamform/grid_test.cpp",), 20: ()}[
            round(depth / MM)]
        quoted.hold(f"F# {depth / (64 * 0.3 * MM):.2f}, one-way", width, one_way, "measure/prediction_test.cpp", *tests)
        quoted.hold(f"F# {depth / (64 * 0.3 * MM):.2f}, two-way", outer_width(lambda u: focused(u)**2, 1.2 * unit, 0.02 * unit)
                    / unit, two_way, "measure/prediction_test.cpp")
        quoted.hold("  above the paraxial law, one-way (%)", 100 * (width / 1.206709129 - 1), more, "published/physics.py")


def pulsed_widths(quoted):
    quoted.section("The same row, point at 60 mm, a Gaussian pulse of 60 %: what it does to the width at 1/2 (%)")
    x, depth = row_of(), 60 * MM
    sigma = 0.6 * F0 / (2 * np.sqrt(2 * np.log(2)))
    f = F0 + sigma * np.linspace(-4, 4, 161)
    turns = np.exp(2j * np.pi * np.outer(np.linspace(-0.6e-6, 0.6e-6, 1201), f))  # time by frequency
    unit = LAMBDA * depth / (64 * 0.3 * MM)

    def width(ways, frequencies, spectrum, turns):
        def highest_in_time(off):
            late = (np.hypot(x - off, depth) - np.hypot(x, depth)) / C
            return np.abs(turns @ (spectrum * np.exp(-2j * np.pi * np.outer(frequencies, late)).sum(1)**ways)).max()
        return outer_width(highest_in_time, 1.1 * unit, 0.05 * unit)

    for ways, words, digits in ((1, "one-way", "-0.7"), (2, "two-way", "0.4")):
        pulse = width(ways, f, np.exp(-0.5 * ((f - F0) / sigma)**2), turns)
        wave = width(ways, np.array([F0]), np.ones(1), np.ones((1, 1)))
        quoted.hold(words, 100 * (pulse / wave - 1), digits, "measure/prediction_test.cpp")


def wrong_speed(quoted):
    quoted.section("The same row on receive alone, point at 40 mm, 1540 m/s assumed: across it at the depth where it is shown")
    x = row_of()
    for speed, width_mm in ((1540, "0.787"), (1480, "0.950"), (1450, "2.114"), (1600, "0.864")):
        shown = 40 * MM * C / speed
        cut = lambda off: abs(np.exp(2j * np.pi * F0 * (np.hypot(x - off, shown) / C - np.hypot(x, 40 * MM) / speed)).sum())
        width = outer_width(cut, 3 * MM, 0.005 * MM) / MM
        quoted.hold(f"{speed} m/s: width at half of the greatest (mm)", width, width_mm, "measure/prediction_test.cpp")


def grating_lobes(quoted):
    quoted.section("Grating lobes: sin(g) = sin(s) + n lambda / p")
    for pitch, steer, order, digits in ((0.75, 20, -1, "-82.4424"), (0.75, 45, -1, "-38.7723"), (1, 20, -1, "-41.1460"),
                                        (1, 45, -1, "-17.0312"), (2, 20, -2, "-41.1460"), (2, 20, -1, "-9.0897"),
                                        (2, 20, 1, "57.3541"), (2, 45, -3, "-52.4567"), (2, 45, -2, "-17.0312"),
                                        (2, 45, -1, "11.9529")):
        angle = np.degrees(np.arcsin(np.sin(np.radians(steer)) + order / pitch))
        quoted.hold(f"p = {pitch} lambda, steered {steer} deg, n = {order} (deg)", angle, digits, "published/arrays.py",
                    "published/physics.py")
    quoted.hold("p = lambda, steered 45 deg, n = -1 (deg)", np.degrees(np.arcsin(np.sqrt(0.5) - 1)), "-17.0312",
                "measure/sections_test.cpp", "published/patterns.py")
    for steer, digits in ((30, "0.666667"), (45, "0.585786"), (60, "0.535898")):
        quoted.hold(f"largest pitch for lines to {steer} deg (lambda)", 1 / (1 + np.sin(np.radians(steer))), digits,
                    "published/arrays.py")
    # A. R. Selfridge, G. S. Kino & B. T. Khuri-Yakub, Appl. Phys. Lett. 37(1), 35-36, 1980 (from memory).
    for steer, digits, test in ((20, "-5.6832", "published/arrays.py"), (45, "7.7", "published/patterns.py")):
        sine = np.sin(np.radians(steer))
        quoted.hold(f"p = w = lambda, steered {steer} deg: lobe over main lobe (dB)", dB(np.sinc(sine - 1) / np.sinc(sine)),
                    digits, test)


def pulsed_grating_lobes(quoted):
    quoted.section("Level of a first grating lobe under a Gaussian pulse of bandwidth B: integral over the pulse / N, and sums")
    # "cycles / N": O. T. von Ramm & S. W. Smith, IEEE Trans. BME 30, 438-452, 1983 (from memory); the factor is derived:
    # echoes come a period T apart, and sum over n of exp(-(n T)^2 / (2 sigma^2)) is sqrt(2 pi) sigma / T but for the ends.
    sigma = lambda bandwidth: np.sqrt(2 * np.log(2)) / (np.pi * bandwidth)  # of the envelope, in periods
    quoted.hold("sqrt(2 pi) sigma_t f0 B", np.sqrt(2 * np.pi) * sigma(1.0), "0.93944", "measure/sections_test.cpp",
                "published/arrays.py", "published/patterns.py")
    for bandwidth, count, digits, tests in ((0.6, 32, "-26.201", ("measure/sections_test.cpp", "published/arrays.py")),
                                            (0.6, 64, "-32.221", ("measure/sections_test.cpp",)),
                                            (0.3, 32, "-20.188", ("published/arrays.py",))):
        t = np.linspace(-8, 8, 6401)[:, None]
        arrivals = np.arange(count) - (count - 1) / 2
        envelope = np.abs((np.exp(-0.5 * ((t - arrivals) / sigma(bandwidth))**2) * np.exp(2j * np.pi * (t - arrivals))).sum(1))
        quoted.hold(f"B = {bandwidth}, N = {count}: sum (dB)", dB(envelope.max() / count), digits, *tests)


def slices(quoted):
    quoted.section("Across a slice: 5 mm behind a lens of 20 mm, 5 MHz, cylindrical waves; outermost half amplitude (mm)")
    node, weight = np.polynomial.legendre.leggauss(300)
    y = 2.5 * MM * node

    def cut(depth, off):
        path = np.hypot(depth, y - off)
        return abs(np.sum(weight * np.exp(-2j * np.pi / LAMBDA * (path - np.hypot(20 * MM, y))) / np.sqrt(path)))

    for depth_mm, one_way, two_way in ((5, "3.355", "3.002"), (15, "1.169", "0.846"), (20, "1.495", "1.097"),
                                       (30, "2.322", "1.680"), (60, "5.899", "3.726")):
        curve = lambda off: cut(depth_mm * MM, off)
        where = ("reference/check_brute_force.py", "published/patterns.py") if depth_mm == 20 else ()
        quoted.hold(f"{depth_mm} mm deep, one-way", outer_width(curve, 4 * MM, 0.02 * MM) / MM, one_way, "published/arrays.py",
                    *where)
        quoted.hold(f"{depth_mm} mm deep, two-way", outer_width(lambda off: curve(off)**2, 4 * MM, 0.02 * MM) / MM, two_way,
                    "published/arrays.py", "measure/elevation_test.cpp", *where)
    quoted.hold("1.206709 lambda F / H, one-way", 1.206709129 * LAMBDA * 4 / MM, "1.48667", "published/patterns.py")
    quoted.hold("0.885893 lambda F / H, two-way", 0.885892941 * LAMBDA * 4 / MM, "1.09142", "published/patterns.py")


def depth_of_focus(quoted):
    quoted.section("Along the beam, in lambda F#^2 (paraxial)")
    # G. S. Kino, Acoustic Waves, 1987, has 7.1 for the disc (from memory). On the axis |C(v) + j S(v)| / v for a line aperture, v^2 = dz / (2 lambda F#^2).
    v = brentq(lambda v: np.hypot(*fresnel(v)) / v - np.sqrt(0.5), 0.5, 1.8)
    quoted.hold("line aperture, 3 dB down on the axis, whole extent", 4 * v * v, "6.95", "recon/measure/theory_notes.cpp")
    quoted.hold("  to either side", 2 * v * v, "3.5", "measure/report_test.cpp")
    # A Gaussian beam exp(-r^2 / w^2) of the same half-amplitude width at its waist: Rayleigh range pi w^2 / lambda.
    quoted.hold("Rayleigh range of a Gaussian beam 1.2067 lambda F# wide", np.pi * (1.206709129 / 2)**2 / np.log(2), "1.6",
                "beamform/retrospective_test.cpp", "recon/beamform/focus_cone.h")


def main():
    quoted = Quoted(__doc__)
    for part in (line_aperture, few_elements, beyond_paraxial, pulsed_widths, wrong_speed, grating_lobes, pulsed_grating_lobes,
                 slices, depth_of_focus):
        part(quoted)
    quoted.finish()


if __name__ == "__main__":
    main()
