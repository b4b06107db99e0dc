"""Echoes in the time domain in NumPy, as a student would write them: for every pair of elements a histogram of arrivals, each
with the strength that both elements have for it at the centre frequency, and then one convolution with the pulse.

    plain_echoes_time.py FOLDER         as for plain_echoes_frequency.py

Quick to write and to run, and wrong by about a third: an arrival is rounded to a whole sample, and directivity and attenuation
are those of one frequency. The error that is printed is this script's, not the product's."""

import numpy as np

import plain_echoes_frequency as exact
import timing


def element_responses(case, element_x, scatterers):
    """Delay and amplitude [element, scatterer] of the response at the centre frequency."""
    delay, amplitude = [], []
    for x in element_x:
        arrival, distance, weight = exact.propagation(case, np.array([x]), scatterers)
        alpha = case.attenuation_dB_cm_MHz / exact.NEPER_dB * 100 * case.center_Hz / 1e6
        straight = np.sqrt((scatterers[:, 0] - x) ** 2 + scatterers[:, 1] ** 2 + scatterers[:, 2] ** 2)
        phase = -2j * np.pi * case.center_Hz * (arrival - straight / case.sound_speed_m_s)
        response = (weight * np.exp(phase - alpha * distance)).sum(axis=(0, 1))
        delay.append(straight / case.sound_speed_m_s - np.angle(response) / (2 * np.pi * case.center_Hz))
        amplitude.append(np.abs(response))
    return np.array(delay), np.array(amplitude)


def convolved(case, spikes):
    """[.., sample] with the pulse's spectrum; the length leaves room for the pulse."""
    length = 2 ** int(np.ceil(np.log2(case.samples)))
    f = np.fft.rfftfreq(length, 1 / case.sampling_rate_Hz)
    spectrum = np.fft.rfft(spikes, length) * (exact.pulse_spectrum(case, f) * case.sampling_rate_Hz)
    return np.fft.irfft(spectrum, length)[..., :case.samples].astype(np.float32)


def traces(case, element_x, scatterers):
    """[element, element, sample]; by reciprocity half of the pairs are made."""
    count = len(element_x)
    delay, amplitude = element_responses(case, element_x, scatterers)
    place = (delay * case.sampling_rate_Hz).astype(np.float32)
    received = amplitude * scatterers[:, 3]
    rf = np.zeros((count, count, case.samples), np.float32)
    offset = np.float32(0.5 - case.start_s * case.sampling_rate_Hz)
    for i in range(count):
        spikes = np.zeros((count - i, case.samples))
        for j in range(i, count):
            sample = (place[i] + place[j] + offset).astype(np.int64)
            inside = sample < case.samples
            spikes[j - i] = np.bincount(sample[inside], (received[i] * amplitude[j])[inside], case.samples)[:case.samples]
        rf[i, i:] = rf[i:, i] = convolved(case, spikes)
    return rf


def main():
    chosen = timing.arguments(__doc__.splitlines()[0])
    case = timing.Case(chosen.folder)
    scatterers, elements = case.array("scatterers"), case.array("elements").astype(int)
    seconds, rf = timing.timed(lambda: traces(case, case.array("element_x_m")[elements], scatterers))
    place = {element: at for at, element in enumerate(elements)}
    own = np.array([rf[place[int(i)], place[int(j)]] for i, j in case.array("pairs")])
    timing.say(seconds=seconds, done=case.share, error=timing.relative_error(own, case.array("product")))


if __name__ == "__main__":
    main()
