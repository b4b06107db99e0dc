"""Widths, side lobes and angles measured in curves and pictures, apart from the program's own measuring."""

import numpy as np
from scipy.interpolate import CubicSpline


def fine(axis, curve, times=40):
    """The curve on a grid `times` finer, by cubic spline; exact enough for curves sampled at a fifth of their width."""
    finer = np.linspace(axis[0], axis[-1], (len(axis) - 1) * times + 1)
    return finer, CubicSpline(axis, curve)(finer)


def width_at(axis, curve, level=0.5):
    """Full width around the highest point where the curve first falls to `level` of it on either side."""
    x, y = fine(np.asarray(axis, float), np.asarray(curve, float))
    peak = int(np.argmax(y))
    threshold = level * y[peak]
    below_right = np.flatnonzero(y[peak:] < threshold)
    below_left = np.flatnonzero(y[peak::-1] < threshold)
    if not below_right.size or not below_left.size:
        raise ValueError("the curve does not fall to the level inside its axis")

    def crossing(outer, inner):
        return x[inner] + (x[outer] - x[inner]) * (y[inner] - threshold) / (y[inner] - y[outer])

    right, left = peak + below_right[0], peak - below_left[0]
    return crossing(right, right - 1) - crossing(left, left + 1)


def peak_position(axis, curve):
    x, y = fine(np.asarray(axis, float), np.asarray(curve, float))
    return x[int(np.argmax(y))]


def first_side_lobe(axis, curve):
    """(distance from the peak, level in dB) of the first local maximum right and left of the main lobe, each side apart."""
    x, y = fine(np.asarray(axis, float), np.asarray(curve, float))
    peak = int(np.argmax(y))
    found = []
    for side in (y[peak:], y[peak::-1]):
        fall = np.flatnonzero(np.diff(side) > 0)[0]
        rise = fall + np.flatnonzero(np.diff(side[fall:]) < 0)[0]
        found.append((rise * (x[1] - x[0]), 20 * np.log10(side[rise] / y[peak])))
    return found


def around(x, z, envelope, center_x, center_z, half_x, half_z):
    """The part [x, z] of a picture around a point, with its axes."""
    columns = np.flatnonzero(np.abs(x - center_x) <= half_x + 1e-9)
    rows = np.flatnonzero(np.abs(z - center_z) <= half_z + 1e-9)
    return x[columns], z[rows], envelope[np.ix_(columns, rows)]


def lateral_profile(envelope):
    """Highest value of each column: what a point leaves of itself across the picture."""
    return envelope.max(axis=1)


def axial_profile(envelope):
    return envelope[int(np.argmax(envelope.max(axis=1)))]
