"""Echoes by brute force, in double precision: the oracle the engine is held to.

Written apart from the engine and differently from it on purpose: no patches, no sinc, no local windows, no FFT.

* One-way response of element e to a scatterer at s (Rayleigh integral over the whole face, Gauss-Legendre in both
  directions, refined until further nodes change nothing):

      G(s, f) = int w exp(-j k R) exp(-j 2 pi f tau(y)) exp(-a(f) R) / (2 pi R) dS

  w = 1 (rigid baffle) or cos(theta) at each surface point (soft); lens tau(y) = -(sqrt(F^2 + y^2) - F) / c.
  Rings and discs by the same integral in polar coordinates: Gauss-Legendre along the radius, equal steps round it.
* Echo on receive element r:  RF(f) = E(f) sum_s sigma_s [sum_e w_e exp(-j 2 pi f tau_e) G_e(s, f)] G_r(s, f).
* A rotating head transmits at its angle at time zero and receives scatterer s at its angle when that echo arrives,
  2 |s - centre of the face at time zero| / c later (sim/recording/format.md, /probe/head).
* Samples:  rf(t) = 2 Re int_0^fmax RF(f) exp(+j 2 pi f t) df  by Gauss-Legendre quadrature on the half line. Nothing is
  periodic, so nothing wraps round, however slowly a zero-phase attenuation rings out; and the half line is free of the kink
  that |f| has at zero.

G over its middle path is a smooth function of frequency: it is integrated over the face at few Legendre nodes and carried to
the many nodes of the inverse transform by its own Legendre polynomial (self_check() holds it against direct evaluation).

Causal dispersion: T. L. Szabo, JASA 97, 14-24, 1995 (from memory), with c(center_Hz) = sound_speed_m_s.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import roots_legendre

NEPER_dB = 20.0 / np.log(10.0)


@dataclass
class Medium:
    sound_speed_m_s: float = 1540.0
    attenuation_dB_cm_MHz: float = 0.0
    attenuation_exponent: float = 1.0
    dispersive: bool = False

    def attenuation_Np_m(self, f):
        return self.attenuation_dB_cm_MHz * np.abs(f * 1e-6) ** self.attenuation_exponent * 100.0 / NEPER_dB

    def slowness_s_m(self, f, reference_Hz):
        """1 / c(f)."""
        still = 1.0 / self.sound_speed_m_s
        if not self.dispersive or self.attenuation_dB_cm_MHz == 0.0:
            return np.full_like(np.asarray(f, float), still)
        y = self.attenuation_exponent
        w, w0 = 2 * np.pi * np.asarray(f, float), 2 * np.pi * reference_Hz
        alpha0 = self.attenuation_Np_m(1e6) / (2 * np.pi * 1e6) ** y
        if y == 1.0:
            return still - 2 / np.pi * alpha0 * np.log(w / w0)
        return still + alpha0 * np.tan(np.pi * y / 2) * (w ** (y - 1) - w0 ** (y - 1))

    def speed_m_s(self, f, reference_Hz):
        return 1.0 / self.slowness_s_m(f, reference_Hz)


@dataclass
class GaussianPulse:
    center_Hz: float
    bandwidth_fraction: float

    @property
    def sigma_Hz(self):
        return self.bandwidth_fraction * self.center_Hz / (2 * np.sqrt(2 * np.log(2)))

    @property
    def sigma_s(self):
        return 1.0 / (2 * np.pi * self.sigma_Hz)

    def time(self, t):
        return np.exp(-0.5 * (t / self.sigma_s) ** 2) * np.cos(2 * np.pi * self.center_Hz * t)

    def spectrum(self, f):
        lobe = lambda f: np.exp(-0.5 * ((f - self.center_Hz) / self.sigma_Hz) ** 2)
        return self.sigma_s * np.sqrt(2 * np.pi) / 2 * (lobe(f) + lobe(-f))

    @property
    def highest_Hz(self):
        """Where nothing is left to add in double precision that a float32 file could show (1e-9 of the peak)."""
        return self.center_Hz + 6.5 * self.sigma_Hz


@dataclass
class Array:
    center_m: np.ndarray  # [element, 3]
    normal: np.ndarray  # [element, 3]
    size_m: np.ndarray  # [element, 2]: lateral, elevation
    soft: bool = False
    elevation_focus_m: float = np.inf
    ring_m: np.ndarray | None = None  # [element, 2]: inner and outer radius about the normal, in place of a rectangle

    def frame(self, e):
        """Lateral and elevation unit vectors: right-handed with the normal, lateral = +x on a flat array."""
        lateral = np.cross([0.0, 1.0, 0.0], self.normal[e])
        lateral = lateral / np.linalg.norm(lateral)
        return lateral, np.cross(self.normal[e], lateral)


@dataclass
class Head:
    """Carries the array, whose elements are then placed in its frame, about an axis along y through (0, 0, -face_radius)."""

    axis_to_face_m: float
    rotation_rate_rad_s: float
    angle_rad: np.ndarray  # [event], at time zero

    def seen(self, angle_rad, point):
        """A point of the room in the frame of the head at an angle: turned back about the axis."""
        sine, cosine = np.sin(angle_rad), np.cos(angle_rad)
        x, y, above_axis = point[0], point[1], point[2] + self.axis_to_face_m
        return np.array([cosine * x - sine * above_axis, y, sine * x + cosine * above_axis - self.axis_to_face_m])

    def arrival_s(self, event, point, sound_speed_m_s):
        return 2 * np.linalg.norm(self.seen(self.angle_rad[event], point)) / sound_speed_m_s

    def transmitted_to(self, event, point):
        return self.seen(self.angle_rad[event], point)

    def received_from(self, event, point, sound_speed_m_s):
        turned = self.rotation_rate_rad_s * self.arrival_s(event, point, sound_speed_m_s)
        return self.seen(self.angle_rad[event] + turned, point)


@lru_cache(maxsize=256)
def legendre(count):
    return roots_legendre(count)


def lens_delay_s(y, focus_m, sound_speed_m_s):
    if not np.isfinite(focus_m):
        return np.zeros_like(y)
    return -(np.hypot(focus_m, y) - focus_m) / sound_speed_m_s


def face(array, e, point, medium, highest_Hz, refine=1.0):
    """Quadrature of one element's face seen from `point`: distance, lens delay and weight dS w / (2 pi R), flat arrays."""
    if array.ring_m is not None and array.ring_m[e, 1] > 0.0:
        return ring_face(array, e, point, medium, highest_Hz, refine)
    return rectangle_face(array, e, point, medium, highest_Hz, refine)


def rectangle_face(array, e, point, medium, highest_Hz, refine):
    """A Gauss rule of n nodes is exact to degree 2n - 1, and exp(j u x) on [-1, 1] has no Legendre terms to speak of beyond
    degree u: nodes follow the phase each direction can turn at most, plus a margin for the curvature of R.
    """
    lateral, elevation = array.frame(e)
    width, height = array.size_m[e]
    seen = np.asarray(point, float) - array.center_m[e]
    across, along, depth = seen @ lateral, seen @ elevation, seen @ array.normal[e]
    wavenumber = 2 * np.pi * highest_Hz / medium.sound_speed_m_s

    def nodes(length, offset, lens):
        reach = abs(offset) + length / 2
        slope = reach / np.hypot(reach, depth)
        if lens and np.isfinite(array.elevation_focus_m):
            slope += (length / 2) / np.hypot(length / 2, array.elevation_focus_m)
        count = 20 + 0.6 * wavenumber * slope * length / 2 + 10 * length / max(abs(depth), length / 4)
        return legendre(int(np.ceil(refine * count)))

    x, weight_x = nodes(width, across, False)
    y, weight_y = nodes(height, along, True)
    x, y = np.meshgrid(x * width / 2, y * height / 2, indexing="ij")
    area = np.outer(weight_x * width / 2, weight_y * height / 2)
    distance = np.sqrt((across - x) ** 2 + (along - y) ** 2 + depth**2)
    weight = area / (2 * np.pi * distance)
    if array.soft:
        weight = weight * depth / distance
    lens = lens_delay_s(y, array.elevation_focus_m, medium.sound_speed_m_s)
    return distance.ravel(), lens.ravel(), weight.ravel()


def ring_face(array, e, point, medium, highest_Hz, refine):
    """Half a turn stands for the whole. Equal steps in angle integrate a periodic function exactly but for its harmonics
    beyond their number: those of exp(-j k R) end soon after k times half the swing of R; of 1 / R they decay like
    exp(-n b), cosh(b) = (rho^2 + r^2 + z^2) / (2 rho r), slow only for a point near the face."""
    if array.soft or np.isfinite(array.elevation_focus_m):
        raise ValueError("rings are flat and in a rigid baffle")
    inner, outer = array.ring_m[e]
    seen = np.asarray(point, float) - array.center_m[e]
    depth = abs(seen @ array.normal[e])
    aside = np.sqrt(max(0.0, seen @ seen - depth**2))
    wavenumber = 2 * np.pi * highest_Hz / medium.sound_speed_m_s

    width = outer - inner
    slope = (aside + outer) / np.hypot(aside + outer, depth)
    count = 20 + 0.6 * wavenumber * slope * width / 2 + 10 * width / max(depth, width / 4)
    x, weight_x = legendre(int(np.ceil(refine * count)))
    radius = (inner + outer) / 2 + x * width / 2

    swing = (np.hypot(aside + outer, depth) - np.hypot(max(0.0, aside - outer), depth)) / 2
    steps = 40 + 1.1 * wavenumber * swing
    if aside > 0.0:
        worst = np.clip(np.hypot(aside, depth), inner, outer)  # the radius where the harmonics of 1 / R last longest
        steps += 36 / np.arccosh((worst**2 + aside**2 + depth**2) / (2 * worst * aside))
    half = int(np.ceil(refine * steps / 2))
    angle = (np.arange(half) + 0.5) * np.pi / half

    rho, phi = np.meshgrid(radius, angle, indexing="ij")
    area = np.outer(weight_x * width / 2 * radius, np.full(half, 2 * np.pi / half))
    distance = np.sqrt((rho - aside) ** 2 + 4 * rho * aside * np.sin(phi / 2) ** 2 + depth**2)
    return distance.ravel(), np.zeros(distance.size), (area / (2 * np.pi * distance)).ravel()


def element_response(array, e, point, medium, reference_Hz, f, refine=1.0, delay_removed_s=0.0):
    """G_e(point, f) exp(+j 2 pi f delay_removed_s) at every frequency of `f`, by direct quadrature."""
    f = np.atleast_1d(np.asarray(f, float))
    distance, lens, weight = face(array, e, point, medium, f.max(), refine)
    attenuation = medium.attenuation_Np_m(f)
    slowness = medium.slowness_s_m(f, reference_Hz)
    out = np.empty(f.size, complex)
    step = max(1, 2_000_000 // distance.size)
    for at in range(0, f.size, step):
        now = slice(at, at + step)
        phase = 2 * np.pi * f[now, None] * (slowness[now, None] * distance + lens - delay_removed_s)
        out[now] = np.exp(-1j * phase - attenuation[now, None] * distance) @ weight
    return out


class Synthesis:
    """Turns responses into samples at times `t` (uniformly spaced)."""

    def __init__(self, array, medium, pulse, start_s, sampling_rate_Hz, samples, refine=1.0):
        self.array, self.medium, self.pulse, self.refine = array, medium, pulse, refine
        self.start_s, self.rate_Hz, self.samples = start_s, sampling_rate_Hz, samples
        self.highest_Hz = pulse.highest_Hz
        # Gauss rule in panels: enough nodes for the fastest turn, exp(j 2 pi f (t - echo)).
        longest = self.start_s + samples / sampling_rate_Hz
        panels = max(1, int(np.ceil(np.pi * self.highest_Hz * longest / 400)))
        turn = np.pi * self.highest_Hz / panels * longest
        x, weight = legendre(int(np.ceil(refine * (0.5 * turn + 60))))
        edge = np.arange(panels) / panels
        unit = (edge[:, None] + (x + 1) / 2 / panels).ravel()
        self.f = unit * self.highest_Hz
        self.weight = np.tile(weight * self.highest_Hz / 2 / panels, panels)
        self.root = 2 * np.sqrt(unit) - 1
        self.carry = {}

    def propagation(self, f, distance_m):
        """Attenuation, and what dispersion adds to the plain delay distance / c, over one distance."""
        late = self.medium.slowness_s_m(f, self.pulse.center_Hz) - 1 / self.medium.sound_speed_m_s
        return np.exp(-distance_m * (self.medium.attenuation_Np_m(f) + 2j * np.pi * f * late))

    def response(self, e, point):
        """G_e(point, f) at the nodes `f` of the inverse transform.

        What is carried from few nodes to many is G over its own middle path: smooth but for the small rest of f^n (or
        f ln f) at zero, which nodes placed in the square root of frequency resolve.
        """
        distance, lens, _ = face(self.array, e, point, self.medium, self.highest_Hz)
        arrival = distance / self.medium.sound_speed_m_s + lens
        middle, spread = (arrival.max() + arrival.min()) / 2, np.ptp(arrival)
        path = (distance.max() + distance.min()) / 2
        count = 32 * int(np.ceil(self.refine * (100 + 2 * np.pi * self.highest_Hz * spread / 1.6) / 32))
        x, weight = legendre(count)
        if count not in self.carry:
            degree = np.arange(count)
            analysis = (np.polynomial.legendre.legvander(x, count - 1) * weight[:, None]).T * (degree[:, None] + 0.5)
            self.carry[count] = np.polynomial.legendre.legvander(self.root, count - 1) @ analysis
        f = ((x + 1) / 2) ** 2 * self.highest_Hz
        coarse = element_response(self.array, e, point, self.medium, self.pulse.center_Hz, f, self.refine, middle)
        coarse /= self.propagation(f, path)
        return (self.carry[count] @ coarse) * self.propagation(self.f, path) * np.exp(-2j * np.pi * self.f * middle)

    def transmit(self, responses, delays_s, weights):
        """sum_e w_e exp(-j 2 pi f tau_e) G_e, over {element: response}."""
        total = np.zeros(self.f.size, complex)
        for e, response in responses.items():
            if weights[e] != 0.0:
                total += weights[e] * np.exp(-2j * np.pi * self.f * delays_s[e]) * response
        return total

    def samples_of(self, spectra):
        """rf [row, sample] of spectra [row, f] that do not contain E(f) yet."""
        spectra = np.atleast_2d(spectra) * (2 * self.weight * self.pulse.spectrum(self.f))
        out = np.empty((spectra.shape[0], self.samples))
        block = 64
        turn = np.exp(2j * np.pi * np.outer(self.f, np.arange(block) / self.rate_Hz))
        for at in range(0, self.samples, block):
            count = min(block, self.samples - at)
            moved = spectra * np.exp(2j * np.pi * self.f * (self.start_s + at / self.rate_Hz))
            out[:, at:at + count] = (moved @ turn[:, :count]).real
        return out


@dataclass
class Recording:
    """What a recording's geometry says; the only way the oracle learns of what the engine did, samples apart."""

    array: Array
    medium: Medium
    pulse: GaussianPulse
    rate_Hz: float
    start_s: np.ndarray  # [event]
    delay_s: np.ndarray  # [event, element]
    weight: np.ndarray  # [event, element]
    element: np.ndarray  # [event, channel]
    rf: np.ndarray  # [event, channel, sample]
    points_m: np.ndarray  # [n, 3]
    strength_m: np.ndarray  # [n]
    head: Head | None = None

    def transmitted_to(self, event, point):
        """The point as the elements see it that transmit."""
        return self.head.transmitted_to(event, point) if self.head else point

    def received_from(self, event, point):
        """And as those see it that receive."""
        return self.head.received_from(event, point, self.medium.sound_speed_m_s) if self.head else point


def read_recording(path):
    import h5py

    with h5py.File(path, "r") as file:
        def text(name):
            value = np.asarray(file[name][()]).ravel()[0]
            return value.decode().rstrip("\0") if isinstance(value, bytes) else str(value)

        number = lambda name: float(np.asarray(file[name][()]).ravel()[0])
        baffle = text("probe/baffle")
        if baffle not in ("rigid", "soft"):
            raise ValueError(f"{path}: a baffle {baffle!r}, neither rigid nor soft")
        array = Array(file["probe/element_center_m"][...], file["probe/element_normal"][...],
                      file["probe/element_size_m"][...], baffle == "soft",
                      number("probe/elevation_focus_m"),
                      file["probe/element_ring_m"][...] if "probe/element_ring_m" in file else None)
        head = None
        if "probe/head" in file:
            head = Head(number("probe/head/axis_to_face_m"), number("probe/head/rotation_rate_rad_s"),
                        np.atleast_1d(file["probe/head/angle_rad"][...]).astype(float))
        medium = Medium(number("medium/sound_speed_m_s"), number("medium/attenuation_dB_cm_MHz"),
                        number("medium/attenuation_exponent"), bool(number("medium/dispersive")))
        return Recording(array, medium, GaussianPulse(number("probe/center_Hz"), number("probe/bandwidth_fraction")),
                         number("receive/sampling_rate_Hz"),
                         np.atleast_1d(file["receive/start_time_s"][...]).astype(float),
                         file["transmit/delay_s"][...].astype(float), file["transmit/weight"][...].astype(float),
                         file["receive/element"][...], file["receive/rf"][...],
                         np.asarray(file["truth/points_m"][...], float).reshape(-1, 3),
                         np.asarray(file["truth/strength_m"][...], float).ravel(), head)


def self_check(synthesis, e, point, count=7):
    """Largest relative difference between carried and directly integrated responses at a few frequencies."""
    at = np.linspace(0, synthesis.f.size - 1, count).astype(int)
    direct = element_response(synthesis.array, e, point, synthesis.medium, synthesis.pulse.center_Hz, synthesis.f[at],
                              refine=1.5)
    return np.abs(synthesis.response(e, point)[at] - direct).max() / np.abs(direct).max()
