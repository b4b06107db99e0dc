"""Statistics of speckle, contrast of two regions of it, and the size of its cells.

First order: C. B. Burckhardt, IEEE Trans. Sonics Ultrason. SU-25(1), 1-6, 1978; second order: R. F. Wagner, S. W. Smith, J. M.
Sandrik & H. Lopez, SU-30(3), 156-163, 1983 (both from memory): the correlation of the field is that of the point response with
itself, and a cell is the integral of its normalised covariance, which is (2F1(-1/2, -1/2; 1; |rho|^2) - 1) / (4/pi - 1) for the
envelope. gCNR = 1 - integral of the smaller of two densities: A. Rodriguez-Molares et al., "The generalized contrast-to-noise
ratio", IEEE Trans. UFFC 67(4), 745-759, 2020 (abstract looked up). Its closed form for two Rayleigh regions is derived; here it
is summed. CNR = difference of means / root of the sum of variances (M. S. Patterson & F. S. Foster, 1983, from memory).
"""

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import hyp2f1, j0
from scipy.stats import binom, rayleigh

from quoted import Quoted

C, MHZ = 1540.0, 1e6


def first_order(quoted):
    quoted.section("Rayleigh envelope")
    mean, variance, skew, excess = (float(moment) for moment in rayleigh.stats(moments="mvsk"))
    snr = mean / np.sqrt(variance)
    quoted.hold("mean over standard deviation", snr, "1.913058", "measure/speckle_test.cpp", "published/physics.py")
    # Delta method: the variance of mean / sd of M independent values, times M.
    spread = np.sqrt(1 / snr**2 - skew / snr + (excess + 2) / 4)
    quoted.hold("relative standard error of that, times sqrt M", spread, "0.71", "published/physics.py")
    # Equal scatterers, a Poisson number of them, n a cell: the sum's characteristic function is exp(n (J0(u) - 1)), and the
    # mean of its size the integral of (1 - that) / u^2.
    def of_few(count):
        size = quad(lambda u: (1 - np.exp(count * (j0(u) - 1))) / u**2, 0, 60, limit=500)[0] + (1 - np.exp(-count)) / 60
        return size / np.sqrt(count - size**2)

    for count, digits in ((20, "1.885"), (50, "1.90")):
        quoted.hold(f"{count} scatterers a cell: mean over standard deviation", of_few(count), digits, "published/physics.py")
    quoted.hold("40 scatterers a cell: below Rayleigh's by (%)", 100 * (1 - of_few(40) / snr), "0.7", "published/physics.py")
    two = lambda count, bins: bins / (2 * count) * sum(
        abs(i - j) * binom.pmf(i, count, 1 / bins) * binom.pmf(j, count, 1 / bins) for i in range(60) for j in range(60))
    quoted.hold("gCNR of 2,000 values against 2,000 of their kind, 256 bins", two(2000, 256), "0.20",
                "measure/contrast_test.cpp")
    quoted.hold("  sqrt(256 / (2000 pi))", np.sqrt(256 / (2000 * np.pi)), "0.20", "measure/contrast_test.cpp")


def contrast(quoted):
    quoted.section("Two Rayleigh regions")
    for level, gcnr, cnr in ((-1, "0.084520696", "0.155311"), (-6, "0.471088523", "0.853109"), (-10, "0.696837314", "1.247221"),
                             (-20, "0.945002972", "1.713208"), (-40, "0.998979390", "1.893833")):
        low, high = (rayleigh(scale=np.sqrt(power / 2)) for power in (10**(level / 10), 1.0))
        crossing = brentq(lambda a: low.logpdf(a) - high.logpdf(a), 0.02 * low.mean(), 3)
        parts = ((high.pdf, 0, crossing), (low.pdf, crossing, crossing + 12 * low.mean()))
        overlap = sum(quad(density, first, last, epsabs=1e-13, epsrel=1e-13)[0] for density, first, last in parts)
        quoted.hold(f"{level} dB: gCNR", 1 - overlap, gcnr, "measure/speckle_test.cpp")
        quoted.hold(f"{level} dB: CNR of the envelope", (high.mean() - low.mean()) / np.hypot(low.std(), high.std()), cnr,
                    "measure/speckle_test.cpp")


def covariance(squared):
    return (hyp2f1(-0.5, -0.5, 1, squared) - 1) / (4 / np.pi - 1)


def cell(squared_rho, last):
    """Over all x, |rho|^2 being even; a unit at a time up to `last`."""
    return 2 * sum(quad(lambda x: covariance(squared_rho(x)), n, n + 1, epsabs=1e-12, epsrel=1e-12)[0] for n in range(last))


def cells(quoted):
    quoted.section("Covariance of the envelope, by SciPy")
    for squared, digits in ((0.25, "0.232559347"), (0.5, "0.474026923"), (0.9, "0.887559802"), (1.0, "1.0")):
        quoted.hold(f"|rho|^2 = {squared}", covariance(squared), digits, "measure/speckle_test.cpp")
    quoted.section("Cells: integral of the envelope's covariance")

    # Two rectangular apertures: the response sinc^2 has a triangle for its spectrum, and rho is the transform of that squared.
    def both(x):
        b = 2 * np.pi * max(x, 1e-3)  # in lambda z / D
        return 6 / b**2 * (1 - np.sin(b) / b)

    s = (np.arange(4000) + 0.5) / 4000
    quoted.hold("  its rho at x = 0.4, by that transform", 3 * np.mean((1 - s)**2 * np.cos(2 * np.pi * s * 0.4)),
                f"{both(0.4):.6f}")
    quoted.hold("two rectangular apertures in focus (lambda z / D)", cell(lambda x: both(x)**2, 100), "0.871956",
                "measure/speckle_test.cpp")
    # One: rho = sinc(x). Beyond 200, covariance is sinc^2 / (4 (4/pi - 1)), of which 1 / (2 pi^2 200) is left on each side.
    quoted.hold("plane wave on transmit, rectangular aperture on receive", cell(lambda x: np.sinc(x)**2, 200)
                + 1 / (np.pi**2 * 200) / (4 * (4 / np.pi - 1)), "0.9665", "published/physics.py")
    gaussian = cell(lambda z: np.exp(-0.5 * z * z), 12)
    quoted.hold("Gaussian response of standard deviation 1", gaussian, "2.4301", "measure/speckle_field.h",
                "measure/speckle_test.cpp")
    sigma_z = C / 2 * np.sqrt(2 * np.log(2)) / np.pi  # of a pulse 1 Hz wide, in m
    quoted.hold("along, in c / B", gaussian * sigma_z / C, "0.45537", "published/physics.py")
    quoted.hold("along, in mm MHz / B", gaussian * sigma_z * 1e3 / MHZ, "0.7013", "measure/speckle_test.cpp")


def resolution_cell(quoted):
    quoted.section("Resolution cell at half amplitude, two-way: 5 MHz, F/2 across, F/4 along elevation, 60 % (mm)")
    half = 2 * brentq(lambda u: np.sinc(u)**2 - 0.5, 0.1, 0.9)  # B. D. Steinberg, 1976 (from memory): sinc(D x / (lambda z))
    across, aside = half * 0.308 * 2, half * 0.308 * 4
    along = 2 * np.log(2) / np.pi * 0.308 / 0.6
    quoted.hold("across", across, "0.5457", "phantoms/resolution_cell_test.cpp")
    quoted.hold("along elevation", aside, "1.0914", "phantoms/resolution_cell_test.cpp")
    quoted.hold("along the beam", along, "0.2265", "phantoms/resolution_cell_test.cpp")
    quoted.hold("volume (mm^3)", across * aside * along, "0.13491", "phantoms/resolution_cell_test.cpp")
    quoted.hold("10 in a cell (per mm^3)", 10 / (across * aside * along), "74.1", "phantoms/resolution_cell_test.cpp")


def main():
    quoted = Quoted(__doc__)
    for part in (first_order, contrast, cells, resolution_cell):
        part(quoted)
    quoted.finish()


if __name__ == "__main__":
    main()
