"""The Gaussian pulse, what attenuation and a high-pass make of it, and the speed that goes with attenuation.

Pulse: spectrum exp(-(f - f0)^2 / (2 sigma_f^2)), at half amplitude B f0 wide; all widths are read off its numerical transform
here, not off the closed forms that tests name. Axial width of a point's echo: half the envelope's duration times the speed of
sound, for the way there and back. Attenuation: A. C. Kak & K. A. Dines, IEEE Trans. BME 25, 321-344, 1978 (from memory): the
peak moves down by a L sigma_f^2. Dispersion: T. L. Szabo, J. Acoust. Soc. Am. 97, 14-24, 1995; here by the nearly local
integral of M. O'Donnell, E. T. Jaynes & J. G. Miller, J. Acoust. Soc. Am. 69, 696-701, 1981 (both from memory), exact for
attenuation that is proportional to frequency.
"""

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from quoted import Quoted

C = 1540.0
NEPER_dB = 20 / np.log(10)


class Pulse:
    """A spectrum in MHz, its envelope in us."""

    def __init__(self, f0, bandwidth, gain=lambda f: 1.0, low=0.0):
        self.f0, self.sigma = f0, bandwidth * f0 / (2 * np.sqrt(2 * np.log(2)))
        self.gain, self.low = gain, low
        self.f = np.linspace(low, f0 + 8 * self.sigma, 8001)
        self.amplitude = self.spectrum(self.f)

    def spectrum(self, f):
        return np.exp(-0.5 * ((f - self.f0) / self.sigma) ** 2) * self.gain(f)

    def envelope(self, t):
        """The analytic signal's size: positive frequencies alone."""
        return abs(np.trapz(self.amplitude * np.exp(2j * np.pi * self.f * t), self.f))

    def duration(self, level=0.5):
        top = self.envelope(0)
        return 2 * brentq(lambda t: self.envelope(t) - level * top, 0, 3 / self.sigma)


def pulse(quoted):
    quoted.section("Gaussian pulse: durations and axial widths (1540 m/s)")
    wave = lambda f0: C / (f0 * 1e6)
    one = Pulse(5, 0.6, low=-5)  # both lobes' tails left whole, as closed forms have them
    quoted.hold("duration at 1/2, times B f0", one.duration() * 3, "0.882542", "reference/check_brute_force.py")
    quoted.hold("sigma_t B f0", one.duration() * 3 / (2 * np.sqrt(2 * np.log(2))), "0.374781", "beamform/grid_test.cpp",
                "beamform/geometry_test.cpp", "beamform/retrospective_test.cpp")
    quoted.hold("width at 1/2 over lambda / B", one.duration() * 3 / 2, "0.441271", "measure/theory_test.cpp",
                "measure/prediction_test.cpp", "beamform/line_test.cpp", "published/physics.py")
    quoted.hold("width at 1/10 over width at 1/2", one.duration(0.1) / one.duration(), "1.822616", "measure/theory_test.cpp",
                "measure/prediction_test.cpp")
    quoted.hold("width at 1/2 over standard deviation", 2 * np.sqrt(2 * np.log(2)), "2.354820", "published/patterns.py")
    for bandwidth, duration_ns, width_mm in ((0.6, "294.1808", "0.22652"), (0.8, "220.6356", "0.16989"),
                                             (0.3, None, "0.45304")):
        found = Pulse(5, bandwidth, low=-5).duration()
        if duration_ns:
            tests = ("array/pulse_test.cpp", *(("reference/check_brute_force.py",) if bandwidth == 0.6 else ()))
            quoted.hold(f"5 MHz, {100 * bandwidth:.0f} %: duration at 1/2 (ns)", found * 1e3, duration_ns, *tests)
        tests = ("published/physics.py", *(() if bandwidth == 0.3 else ("measure/theory_test.cpp",)))
        quoted.hold(f"5 MHz, {100 * bandwidth:.0f} %: axial width at 1/2 (mm)", found * 1e-6 * C / 2 * 1e3, width_mm, *tests)
    quoted.hold("5 MHz, 60 %: sigma_t (ns)", one.duration() * 1e3 / (2 * np.sqrt(2 * np.log(2))), "124.9271",
                "reference/check_brute_force.py")
    quoted.hold("5 MHz, 60 %: 1/100 of the spectrum's peak at (MHz)", brentq(lambda f: one.spectrum(f) - 0.01, 5, 12),
                "8.86635", "array/scan_test.cpp")


def attenuation(quoted):
    quoted.section("Attenuation")
    quoted.hold("0.5 dB/cm/MHz over 1 cm at 1 MHz (Np)", 0.5 / NEPER_dB, "0.057564627", "engine/propagation_test.cpp")
    quoted.hold("1 Np (dB)", NEPER_dB, "8.685889638", "engine/propagation_test.cpp")
    for coefficient, depth_cm, shift, level in ((0.5, 5, "0.934292", "-22.6643"), (0.7, 4, "1.046407", "-25.0701")):
        nepers = coefficient / NEPER_dB * 2 * depth_cm  # per MHz
        # The whole spectrum's maximum, found as it stands.
        loss = lambda f: 0.5 * ((f - 5) / Pulse(5, 0.6).sigma)**2 + nepers * f
        found = minimize_scalar(loss, bounds=(2, 6), method="bounded", options={"xatol": 1e-10})
        tests = ("published/physics.py", *(("measure/prediction_test.cpp",) if coefficient == 0.5 else ()))
        quoted.hold(f"{coefficient} dB/cm/MHz, {depth_cm} cm deep: peak moves down by (MHz)", 5 - found.x, shift, *tests)
        quoted.hold("  level there (dB)", -found.fun * NEPER_dB, level, "published/physics.py")
    sigma = Pulse(5, 0.6).sigma
    quoted.hold("5 MHz, 60 %: sigma_f (MHz)", sigma, "1.274", "beamform/high_pass_test.cpp")
    quoted.hold("0.5 dB/cm/MHz, 8 cm deep (Np/MHz)", 0.5 / NEPER_dB * 16, "0.921", "beamform/high_pass_test.cpp")
    quoted.hold("  peak moves down by (MHz)", 0.5 / NEPER_dB * 16 * sigma**2, "1.49", "beamform/high_pass_test.cpp")
    quoted.hold("0.5 dB/cm/MHz, 80.4 mm deep (MHz)", 0.5 / NEPER_dB * 16.08 * sigma**2, "1.5", "measure/prediction_test.cpp")
    quoted.hold("0.5 dB/cm/MHz, 70 mm deep (MHz)", 0.5 / NEPER_dB * 14 * sigma**2, "1.308", "measure/report_test.cpp")
    quoted.hold("  of 5 MHz (%)", 0.5 / NEPER_dB * 14 * sigma**2 / 5 * 100, "26", "measure/report_test.cpp")


def high_pass(quoted):
    quoted.section("A raised cosine from nothing at 0.25 MHz to all at 1.25 MHz, before a real echo 3 MHz wide (%)")
    cut = lambda f: np.where(f < 0.25, 0.0, np.where(f > 1.25, 1.0, 0.5 - 0.5 * np.cos(np.pi * (f - 0.25))))
    for f0, peak, width in ((5.0, "-0.05", "0.08"), (3.5, "-1.6", "3.3")):
        # A real pulse has its lobe at -f0 too, whose foot reaches past 0 Hz.
        mirrored = lambda f: 1 + np.exp(-0.5 * ((f + f0)**2 - (f - f0)**2) / Pulse(f0, 3 / f0).sigma**2)
        uncut, rest = Pulse(f0, 3 / f0, mirrored), Pulse(f0, 3 / f0, lambda f: mirrored(f) * cut(f))
        quoted.hold(f"{f0} MHz: peak beside uncut", 100 * (rest.envelope(0) / uncut.envelope(0) - 1), peak,
                    "recon/beamform/recipe.h")
        quoted.hold(f"{f0} MHz: axial width beside uncut", 100 * (rest.duration() / uncut.duration() - 1), width,
                    "recon/beamform/recipe.h", "measure/prediction_test.cpp")


def dispersion(quoted):
    quoted.section("0.5 dB/cm/MHz, 1540 m/s at 5 MHz: 1/c(f) - 1/c(f0) = -(2/pi) integral of alpha(w) / w^2 from w0 to w")
    alpha = 0.5 / NEPER_dB * 100 / (2 * np.pi * 1e6)  # Np/m per rad/s
    for f, digits in ((1e6, "1537.776975"), (2e6, "1538.733593"), (10e6, "1540.959386")):
        # In units of MHz, lest the integrand be tiny.
        local = quad(lambda u: 1.0 / u, 5.0, f / 1e6, epsabs=0, epsrel=1e-13)[0]
        quoted.hold(f"{f / 1e6:.0f} MHz (m/s)", 1 / (1 / C - 2 / np.pi * alpha * local), digits, "engine/propagation_test.cpp",
                    "reference/check_brute_force.py")


def main():
    quoted = Quoted(__doc__)
    for part in (pulse, attenuation, high_pass, dispersion):
        part(quoted)
    quoted.finish()


if __name__ == "__main__":
    main()
