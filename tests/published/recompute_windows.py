"""Figures of apodization windows, from their formulas by SciPy (scipy.signal.windows) and a plain Fourier sum.

F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier transform", Proc. IEEE 66(1), 51-83, 1978,
gives the definitions and, in his Table I, the same figures to fewer digits (title and table looked up, its rows from memory).
The tables of windows.h are read here as they stand, so that every number in them is held.
"""

import re

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.signal import windows

from quoted import Quoted, text_of

SYMMETRIC = {"rectangular": lambda n, p: np.ones(n), "triangle": lambda n, p: windows.bartlett(n),
             "cosine": lambda n, p: np.sin(np.pi * np.arange(n) / (n - 1)), "hann": lambda n, p: windows.hann(n),
             "hamming": lambda n, p: windows.hamming(n), "blackman": lambda n, p: windows.blackman(n),
             "tukey": windows.tukey, "kaiser": windows.kaiser, "dolph_chebyshev": windows.chebwin,
             "gaussian": lambda n, p: windows.gaussian(n, (n - 1) / (2 * p))}  # exp(-(1/2) (alpha x / (N/2))^2)


def symmetric(kind, parameter, count):
    """End points on the outermost elements."""
    return SYMMETRIC[kind](count, parameter)


def centered(kind, parameter, count):
    """At the centres of `count` elements: every second point of a symmetric window of 2 count + 1."""
    return SYMMETRIC[kind](2 * count + 1, parameter)[1::2]


class Beam:
    """|sum of w exp(j 2 pi u n / N)|, u in bins, that is in lambda z / (N pitch)."""

    def __init__(self, weights):
        self.w, self.N = weights, len(weights)

    def __call__(self, u):
        return abs(np.sum(self.w * np.exp(2j * np.pi * u * np.arange(self.N) / self.N))) / self.w.sum()

    def spectrum(self):
        steps = 64  # a bin
        return np.abs(np.fft.rfft(self.w, steps * self.N)) / self.w.sum(), 1.0 / steps

    def width(self, level):
        levels, step = self.spectrum()
        first = np.flatnonzero(levels < level)[0]
        return 2 * brentq(lambda u: self(u) - level, (first - 1) * step, first * step, xtol=1e-12)

    def side_lobe_dB(self, within_bins=np.inf):
        levels, step = self.spectrum()
        levels = levels[:int(min(within_bins / step, len(levels) - 1)) + 1]
        null = 1 + np.flatnonzero(np.diff(levels[1:]) > 0)[0]
        top = (null + np.argmax(levels[null:])) * step
        peak = minimize_scalar(lambda u: -self(u), bounds=(top - step, top + step), method="bounded", options={"xatol": 1e-9})
        return 20 * np.log10(max(-peak.fun, self(top)))

    def gain(self):
        return self.w.mean()

    def noise_bandwidth(self):
        return self.N * np.sum(self.w**2) / self.w.sum()**2


def product(text):
    """What a parameter in C++ is worth, as in 2.5 * std::numbers::pi."""
    return np.prod([np.pi if "pi" in factor else float(factor) for factor in text.split("*")])


def rows(text, numbers):
    """[(kind, parameter, [digits ...])] of a table in C++, whatever its names."""
    number = r"[-\d.]+"
    found = re.findall(r"\{\{\w+::(\w+), ([^}]+)\},((?:[\s{},]*" + number + r"){" + str(numbers) + r"})[\s}]*\}", text)
    return [(kind, product(value), re.findall(number, rest)) for kind, value, rest in found]


def tables(text):
    return re.findall(r"=\s*(\{\s*\{\{.*?)\};", text, re.DOTALL)


def named(kind, parameter):
    return f"{kind} {parameter:.4g}" if parameter else kind


def table(quoted, title, weights, found):
    quoted.section(title)
    for kind, parameter, digits in found:
        name = named(kind, parameter)
        for n, level, width in zip((32, 64, 128), digits[:3], digits[3:6]):
            beam = Beam(weights(kind, parameter, n))
            quoted.hold(f"{name}, N = {n}: side lobe (dB)", beam.side_lobe_dB(), level)
            quoted.hold(f"{name}, N = {n}: width at 1/2", beam.width(0.5), width)
        beam = Beam(weights(kind, parameter, 64))
        for what, value, shown in zip(("width at 1/sqrt 2", "mean", "noise bandwidth"),
                                      (beam.width(np.sqrt(0.5)), beam.gain(), beam.noise_bandwidth()), digits[6:]):
            quoted.hold(f"{name}, N = 64: {what}", value, shown)


def continuous(quoted):
    quoted.section("Continuous windows, in closed form: sinc and its neighbours a bin aside")
    sinc = np.sinc
    hamming = lambda u: (0.54 * sinc(u) + 0.23 * (sinc(u - 1) + sinc(u + 1))) / 0.54
    hann = lambda u: sinc(u) + 0.5 * (sinc(u - 1) + sinc(u + 1))
    triangle = lambda u: sinc(u / 2) ** 2
    u = np.linspace(0, 12, 120001)
    # E. W. Weisstein, MathWorld, "Hamming Function" and "Bartlett Function": 0.00734934 and 0.047190 (looked up).
    quoted.hold("Hamming: width at 1/2 (bins)", 2 * brentq(lambda x: hamming(x) - 0.5, 0.5, 1.5), "1.81522",
                "array/window_test.cpp")
    quoted.hold("Hamming: highest side lobe over the peak", np.abs(hamming(u[u > 2])).max(), "0.00734934",
                "array/window_test.cpp")
    quoted.hold("triangle: highest side lobe over the peak", triangle(u[u > 2]).max(), "0.047190", "array/window_test.cpp")
    quoted.hold("Hann: highest side lobe (dB)", 20 * np.log10(np.abs(hann(u[u > 2])).max()), "-31.47",
                "measure/side_lobe_test.cpp")
    quoted.hold("Hann: width at 1/2 (bins)", 2 * brentq(lambda x: hann(x) - 0.5, 0.5, 1.5), "2.0",
                "measure/side_lobe_test.cpp")
    quoted.hold("Hann on both sides: width at 1/2", 2 * brentq(lambda x: hann(x) ** 2 - 0.5, 0.5, 1.5), "1.4406",
                "measure/theory_test.cpp", "beamform/grid_test.cpp")
    quoted.hold("rectangular out, Hann back: width at 1/2", 2 * brentq(lambda x: sinc(x) * hann(x) - 0.5, 0.3, 0.9), "1.0561",
                "measure/theory_test.cpp")
    for n, weight in ((0, "1.0"), (1, "0.6545085"), (2, "0.0954915")):
        quoted.hold(f"Hann at five centres, {n} off the middle", 0.5 + 0.5 * np.cos(2 * np.pi * n / 5), weight,
                    "measure/theory_test.cpp")


def main():
    quoted = Quoted(__doc__)
    texts = tables(text_of("published/windows.h"))
    first, second, harris = (rows(text, numbers) for text, numbers in zip(texts, (9, 9, 5), strict=True))
    # A table of which a row is not understood must not pass for one that agrees.
    assert [len(first), len(second), len(harris)] == [text.count("{{") for text in texts]
    table(quoted, "Windows whose end points lie on the outermost elements", symmetric, first)
    table(quoted, "Windows at the element centres", centered, second)

    quoted.section("Harris's Table I as printed (rows from memory), against N = 2048: to one unit of what he prints, with some "
                   "rounded up")
    for kind, parameter, digits in harris:
        beam = Beam(centered(kind, parameter, 2048))
        values = (beam.side_lobe_dB(12), beam.gain(), beam.noise_bandwidth(), beam.width(np.sqrt(0.5)), beam.width(0.5))
        for what, value, shown, within in zip(("side lobe (dB)", "mean", "noise bandwidth", "width at 3 dB", "width at 6 dB"),
                                              values, digits, (0.65, 0.006, 0.006, 0.013, 0.013)):
            quoted.hold(f"{named(kind, parameter)}: {what}", value, shown, within=within)

    continuous(quoted)
    quoted.section("N = 64 at the element centres, as other tests quote it")
    for kind, level, width in (("hann", "-31.47", "2.0000"), ("hamming", "-42.57", "1.8152")):
        beam = Beam(centered(kind, 0.0, 64))
        quoted.hold(f"{kind}: side lobe (dB)", beam.side_lobe_dB(), level, "published/patterns.py")
        quoted.hold(f"{kind}: width at 1/2", beam.width(0.5), width, "published/patterns.py")
    theory = rows(text_of("measure/theory_test.cpp"), 2)
    assert len(theory) == 13
    for kind, parameter, (one_way, two_way) in theory:
        # Dolph-Chebyshev exists for its N elements alone.
        beam = Beam((symmetric if kind == "dolph_chebyshev" else centered)(kind, parameter, 64))
        quoted.hold(f"{named(kind, parameter)}: width at 1/2, theory_test.cpp", beam.width(0.5), one_way)
        quoted.hold(f"{named(kind, parameter)}: width at 1/sqrt 2, theory_test.cpp", beam.width(np.sqrt(0.5)), two_way)
    quoted.finish()


if __name__ == "__main__":
    main()
