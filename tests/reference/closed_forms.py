"""Responses of a rectangle and of a disc to a point in closed form, without loss, and their transforms."""

from functools import lru_cache

import numpy as np
from scipy.special import roots_legendre


@lru_cache
def quarter_turn(count):
    """Nodes and weights from 0 to pi / 2."""
    node, weight = roots_legendre(count)
    return (node + 1) * np.pi / 4, weight * np.pi / 4


def rectangle_impulse_response(point_m, width_m, height_m, c, t, soft=False):
    """h(t) of a rectangular piston, one formula for every region: corner decomposition after J. C. Lockwood &
    J. G. Willette, JASA 53, 735-741, 1973 (from memory; the form used is derived)."""
    x, y, z = point_m
    t = np.asarray(t, float)
    sigma = np.sqrt(np.maximum((c * t) ** 2 - z**2, 1e-300))

    def corner(X, Y):
        angle = np.arcsin(np.minimum(1, abs(Y) / sigma)) - np.arccos(np.minimum(1, abs(X) / sigma))
        return np.sign(X) * np.sign(Y) * np.maximum(0, angle)

    x1, x2, y1, y2 = -width_m / 2 - x, width_m / 2 - x, -height_m / 2 - y, height_m / 2 - y
    h = c / (2 * np.pi) * (corner(x2, y2) - corner(x1, y2) - corner(x2, y1) + corner(x1, y1))
    return np.where(c * t < z, 0.0, h * (z / (c * t) if soft else 1.0))


def transform_of_impulse_response(point_m, width_m, height_m, c, f, soft):
    """int h(t) exp(-j 2 pi f t) dt between its kinks; the square-root heads are removed by t = a + (b-a) sin^2."""
    x, y, z = point_m
    xs, ys = [-width_m / 2 - x, width_m / 2 - x], [-height_m / 2 - y, height_m / 2 - y]
    kinks = [z] + [np.hypot(z, X) for X in xs] + [np.hypot(z, Y) for Y in ys] + [np.sqrt(z * z + X * X + Y * Y)
                                                                                for X in xs for Y in ys]
    kinks = sorted({k / c for k in kinks})
    angle, weight = quarter_turn(400)
    total = 0.0
    for a, b in zip(kinks[:-1], kinks[1:]):
        t = a + (b - a) * np.sin(angle) ** 2
        jacobian = (b - a) * 2 * np.sin(angle) * np.cos(angle)
        total += np.sum(weight * jacobian * rectangle_impulse_response(point_m, width_m, height_m, c, t, soft)
                        * np.exp(-2j * np.pi * f * t))
    return total


def disc_impulse_response(r, z, a, c, t):
    """h(t) of a disc of radius a at (r, z): F. Oberhettinger, J. Res. NBS 65B, 1-6, 1961; P. R. Stepanishen, JASA 49,
    1629-1638, 1971 (formula from memory, recomputed against quadrature)."""
    t = np.asarray(t, float)
    first, second = np.sqrt(z**2 + (a - r) ** 2), np.sqrt(z**2 + (a + r) ** 2)
    h = np.zeros(t.shape)
    if r < a:
        h[(c * t >= z) & (c * t <= first)] = c
    if r > 0:
        arc = (c * t > first) & (c * t <= second)
        sigma = np.sqrt((c * t[arc]) ** 2 - z**2)
        h[arc] = c / np.pi * np.arccos(np.clip((sigma**2 + r**2 - a**2) / (2 * r * sigma), -1, 1))
    return h


def transform_of_disc(r, z, a, c, f):
    """int h(t) exp(-j 2 pi f t) dt: the box in closed form, the arc by a Gauss rule that takes its square-root ends out."""
    first, second = np.sqrt(z**2 + (a - r) ** 2) / c, np.sqrt(z**2 + (a + r) ** 2) / c
    total = 0.0
    if r < a:
        total = c * (np.exp(-2j * np.pi * f * z / c) - np.exp(-2j * np.pi * f * first)) / (2j * np.pi * f)
    if r > 0:
        # At r = a the arc starts at c t = z like sqrt(t - z / c), which sin^2 makes smooth as well.
        angle, weight = quarter_turn(1500)
        t = first + (second - first) * np.sin(angle) ** 2
        jacobian = (second - first) * 2 * np.sin(angle) * np.cos(angle)
        total += np.sum(weight * jacobian * disc_impulse_response(r, z, a, c, t) * np.exp(-2j * np.pi * f * t))
    return total
