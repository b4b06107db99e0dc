"""Holds the windows of sim/array/window.h to scipy.signal.windows, an independent implementation.

SciPy's symmetric windows put their end points on the outermost elements, as window_symmetric() does. Two are different:
its cosine is ours at element centres (the symmetric one is written out here), and its Gaussian takes a standard deviation in samples, (count - 1) / (2 alpha).
Weights at element centres are every second one of a symmetric window of 2 count + 1 points, for all windows but
Dolph-Chebyshev, which exists per count. SciPy's own rounding there reaches 1e-12 at 129 elements; above 64 the reference
is the same formula in 80-bit arithmetic.
"""

import subprocess
import sys
import warnings

import numpy as np
from scipy.signal import windows

TOLERANCE = 1e-12
warnings.filterwarnings("ignore", message="This window is not suitable for spectral analysis")


def dolph_chebyshev(count, side_lobe_dB):
    """Inverse transform of T_(count-1)(beta cos(pi k / count)) in extended precision, peak 1."""
    if count <= 64:
        return windows.chebwin(count, side_lobe_dB)
    order = count - 1
    pi = np.longdouble("3.14159265358979323846264338327950288")
    beta = np.cosh(np.arccosh(np.longdouble(10) ** (np.longdouble(side_lobe_dB) / 20)) / order)
    k = np.arange(count)
    x = beta * np.cos(pi * k / count)
    inside = np.cos(order * np.arccos(np.clip(x, -1, 1)))
    outside = np.sign(x) ** order * np.cosh(order * np.arccosh(np.maximum(np.abs(x), 1)))
    half_turns = np.outer(k, 2 * k - order) % (2 * count)
    weights = (np.where(np.abs(x) <= 1, inside, outside)[:, None] * np.cos(pi * half_turns / count)).sum(axis=0)
    return weights / weights.max()


def symmetric(name, parameter, count):
    if name == "cosine":
        return np.sin(np.pi * np.arange(count) / (count - 1))
    if name == "gaussian":
        return windows.gaussian(count, (count - 1) / (2 * parameter))
    plain = {
        "rectangular": windows.boxcar,
        "triangle": windows.bartlett,
        "hann": windows.hann,
        "hamming": windows.hamming,
        "blackman": windows.blackman,
    }
    with_parameter = {
        "tukey": windows.tukey,
        "kaiser": windows.kaiser,
        "dolph_chebyshev": dolph_chebyshev,
    }
    if name in plain:
        return plain[name](count)
    return with_parameter[name](count, parameter)


def at_centers(name, parameter, count):
    if name == "dolph_chebyshev":
        return dolph_chebyshev(count, parameter)
    if name == "cosine":
        return windows.cosine(count)
    return symmetric(name, parameter, 2 * count + 1)[1::2]


def main():
    output = subprocess.run([sys.argv[1]], check=True, capture_output=True, text=True).stdout
    worst = 0.0
    rows = 0
    for line in output.splitlines():
        convention, name, parameter, count, *weights = line.split()
        reference = (symmetric if convention == "symmetric" else at_centers)(name, float(parameter), int(count))
        error = np.max(np.abs(np.array(weights, dtype=float) - reference))
        rows += 1
        worst = max(worst, error)
        if not error <= TOLERANCE:
            sys.exit(f"{convention} {name} {parameter} {count}: differs from SciPy by {error:.3g}")
    if rows == 0:
        sys.exit("no window was printed")
    print(f"{rows} windows, greatest difference {worst:.2g}")


if __name__ == "__main__":
    main()
