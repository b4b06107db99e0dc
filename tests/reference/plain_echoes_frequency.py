"""Echoes in the frequency domain in NumPy, as a student would write them: at every frequency of the record the responses of all
elements to all scatterers, and one matrix product. The engine's physics: Rayleigh integral over the face by points, lens,
attenuation.

    plain_echoes_frequency.py FOLDER

FOLDER: scatterers [n, 4] (x, y, z, strength, in m), element_x_m, elements (those that are computed), pairs [k, 2] of elements
and product [k, sample], which the result is held against."""

import numpy as np

import timing

NEPER_dB = 20 / np.log(10)


def pulse_spectrum(case, f):
    sigma = case.bandwidth_fraction * case.center_Hz / (2 * np.sqrt(2 * np.log(2)))
    lobe = lambda f: np.exp(-0.5 * ((f - case.center_Hz) / sigma) ** 2)
    return np.sqrt(2 * np.pi) / (2 * np.pi * sigma) / 2 * (lobe(f) + lobe(-f))


def frequencies(case, level=1e-4):
    """Of the record's transform, up to where the pulse has fallen to `level` of its peak."""
    length = 2 ** int(np.ceil(np.log2(case.samples)))
    f = np.fft.rfftfreq(length, 1 / case.sampling_rate_Hz)
    return length, f[:np.flatnonzero(pulse_spectrum(case, f) >= level * pulse_spectrum(case, case.center_Hz))[-1] + 1]


def face_points(case):
    """Gauss-Legendre on the rectangle: offsets across and along, lens delay and area of each."""
    across, weight_across = np.polynomial.legendre.leggauss(case.points_across)
    along, weight_along = np.polynomial.legendre.leggauss(case.points_along)
    across, along = np.meshgrid(across * case.width_m / 2, along * case.height_m / 2, indexing="ij")
    area = np.outer(weight_across, weight_along) * case.width_m * case.height_m / 4
    lens = np.zeros_like(along)
    if case.elevation_focus_m:
        lens = -(np.hypot(case.elevation_focus_m, along) - case.elevation_focus_m) / case.sound_speed_m_s
    return across.ravel(), along.ravel(), lens.ravel(), area.ravel()


def propagation(case, element_x, scatterers):
    """Arrival time, distance and 1 / (2 pi R) with the area, each [face point, element, scatterer]."""
    across, along, lens, area = (part[:, None, None] for part in face_points(case))
    x, y, z = scatterers[:, 0], scatterers[:, 1], scatterers[:, 2]
    distance = np.sqrt((x - element_x[:, None] - across) ** 2 + (y - along) ** 2 + z ** 2)
    return distance / case.sound_speed_m_s + lens, distance, area / (2 * np.pi * distance)


def spectra(case, element_x, scatterers, f):
    """[frequency, element, element]: sum over scatterers of strength G_i G_j. From one frequency to the next every phase turns
    by the same step, which spares the exponentials."""
    total = np.zeros((len(f), len(element_x), len(element_x)), np.complex64)
    block = max(1, 400_000 // (len(element_x) * case.points_across * case.points_along))
    alpha = case.attenuation_dB_cm_MHz / NEPER_dB * 100 / 1e6
    for first in range(0, len(scatterers), block):
        some = scatterers[first:first + block]
        arrival, distance, weight = propagation(case, element_x, some)
        exponent = -2j * np.pi * arrival - alpha * distance
        step = np.exp(exponent * (f[1] - f[0])).astype(np.complex64)
        wave = (weight * np.exp(exponent * f[0])).astype(np.complex64)
        strength = some[:, 3].astype(np.float32)
        for k in range(len(f)):
            response = wave.sum(axis=0)
            total[k] += (response * strength) @ response.T
            wave *= step
    return total


def traces(case, spectrum, f, length):
    """[element, element, sample]; one row of elements at a time."""
    factor = pulse_spectrum(case, f) * case.sampling_rate_Hz * np.exp(2j * np.pi * f * case.start_s)
    out = np.empty(spectrum.shape[1:] + (case.samples,), np.float32)
    for row in range(len(out)):
        out[row] = np.fft.irfft(spectrum[:, row].T * factor, length)[:, :case.samples]
    return out


def main():
    chosen = timing.arguments(__doc__.splitlines()[0])
    case = timing.Case(chosen.folder)
    scatterers, elements = case.array("scatterers"), case.array("elements").astype(int)
    length, f = frequencies(case)
    seconds, spectrum = timing.timed(lambda: spectra(case, case.array("element_x_m")[elements], scatterers, f))
    fixed, rf = timing.timed(lambda: traces(case, spectrum, f, length))
    place = {element: at for at, element in enumerate(elements)}
    reference = np.array([rf[place[int(i)], place[int(j)]] for i, j in case.array("pairs")])
    timing.say(seconds=seconds + fixed, fixed_seconds=fixed, done=case.share,
               error=timing.relative_error(case.array("product"), reference))


if __name__ == "__main__":
    main()
