"""Delay-and-sum written the plain way, in double precision with exact band-limited interpolation (zero-padded Fourier
upsampling, then cubic): what a reconstruction is held to, and a way to look at a recording without the program."""

import numpy as np


def analytic(rf, upsample=8):
    """Analytic signal of rf [..., sample] on a grid `upsample` times finer; silence is padded so that nothing wraps."""
    count = rf.shape[-1]
    padded = 2 * count
    spectrum = np.fft.rfft(rf, padded, axis=-1)
    whole = np.zeros(rf.shape[:-1] + (padded * upsample,), complex)
    whole[..., :spectrum.shape[-1]] = 2 * spectrum
    whole[..., 0] /= 2
    return np.fft.ifft(whole, axis=-1)[..., :count * upsample] * upsample


def sample_at(signal, position):
    """Cubic (four-point Lagrange) between samples of an upsampled signal; zero outside."""
    base = np.floor(position).astype(int)
    inside = (base >= 1) & (base < signal.size - 2)
    base = np.where(inside, base, 1)
    t = position - base
    weights = (-t * (t - 1) * (t - 2) / 6, (t + 1) * (t - 1) * (t - 2) / 2, -(t + 1) * t * (t - 2) / 2, (t + 1) * t * (t - 1) / 6)
    return np.where(inside, sum(w * signal[base + i - 1] for i, w in enumerate(weights)), 0.0)


def image(rf, rate_Hz, start_s, receive_m, c, points_m, transmit_path_m, weights=None, upsample=8):
    """Complex sum at points [n, 3]: rf [event, channel, sample], receive element centres [event, channel, 3], transmit path
    lengths [event, n] from time zero, weights [channel, n] or None."""
    total = np.zeros(len(points_m), complex)
    for event in range(rf.shape[0]):
        signals = analytic(rf[event].astype(float), upsample)
        for channel in range(rf.shape[1]):
            path = transmit_path_m[event] + np.linalg.norm(points_m - receive_m[event, channel], axis=1)
            value = sample_at(signals[channel], (path / c - start_s[event]) * rate_Hz * upsample)
            total += value if weights is None else weights[channel] * value
    return total
