"""A reconstruction that is not ours, as an engineer would write it: reads a recording of plane waves by a flat array, forms an
image and writes it by the contract of sim/recording/format.md, so that `echoloom measure` takes it. NumPy and h5py alone.

    example_reconstruction.py RECORDING.h5 IMAGE.h5
"""

import sys

import h5py
import numpy as np

F_NUMBER, STEP_M, UPSAMPLED = 1.5, 0.05e-3, 8
RECIPE = '[receive]\naperture = "growing"\nf_number = 1.5\nwindow = "hann"\n'  # what `measure` derives theory from


def analytic(rf):
    """Echoes [channel, sample] as analytic signals, UPSAMPLED times finer; silence is added so that nothing wraps."""
    length = 2 * rf.shape[-1]
    whole = np.zeros((len(rf), length * UPSAMPLED), complex)
    whole[:, : length // 2] = 2 * np.fft.fft(rf, length)[:, : length // 2]
    return np.fft.ifft(whole)[:, : rf.shape[-1] * UPSAMPLED] * UPSAMPLED


def aperture(offset_m, width_m, pitch_m):
    """Hann weights: the share of each element's pitch within the aperture, times the window at the middle of that share."""
    low, high = np.maximum(offset_m - pitch_m / 2, -width_m / 2), np.minimum(offset_m + pitch_m / 2, width_m / 2)
    return np.maximum(high - low, 0) * np.cos(np.pi * (low + high) / 2 / width_m) ** 2


with h5py.File(sys.argv[1]) as recording, h5py.File(sys.argv[2], "w") as image:
    rf, receivers = recording["receive/rf"], recording["receive/element"][...]
    rate, start_s = recording["receive/sampling_rate_Hz"][0], recording["receive/start_time_s"][...]
    c, pitch_m = recording["medium/sound_speed_m_s"][0], recording["probe/pitch_m"][0]
    element_m, ahead = recording["probe/element_center_m"][...], recording["transmit/direction"][...]

    x_m = np.arange(element_m[0, 0], element_m[-1, 0], STEP_M)
    z_m = np.arange(1e-3, (start_s.max() + rf.shape[2] / rate) * c / 2 * 0.8, STEP_M)
    x, z = np.meshgrid(x_m, z_m, indexing="ij")
    width_m = np.clip(z / F_NUMBER, pitch_m, len(element_m) * pitch_m)
    total, weights = np.zeros(x.shape, complex), np.zeros(x.shape)
    for event in range(len(rf)):
        out_m = (x - recording["transmit/origin_m"][event, 0]) * ahead[event, 0] + z * ahead[event, 2]
        for trace, element in zip(analytic(rf[event]), receivers[event]):
            back_m = np.hypot(x - element_m[element, 0], z)
            place = ((out_m + back_m) / c - start_s[event]) * rate * UPSAMPLED
            weight = aperture(x - element_m[element, 0], width_m, pitch_m)
            total += weight * (np.interp(place, np.arange(trace.size), trace.real, 0, 0)
                               + 1j * np.interp(place, np.arange(trace.size), trace.imag, 0, 0))
            weights += weight

    image["envelope"] = (np.abs(total) / weights).astype(np.float32)
    image["grid/kind"], image["grid/x_m"], image["grid/depth_m"] = "cartesian", x_m, z_m
    image["recipe/name"], image["recipe/text"] = "example", RECIPE
    about = image.create_group("recording")  # what it was formed from: everything but the samples
    for name in ("probe", "transmit", "medium", "truth", "receive/element", "receive/sampling_rate_Hz",
                 "receive/start_time_s"):
        if name in recording:
            recording.copy(name, about.require_group("receive") if "/" in name else about)
    about["receive/samples"] = float(rf.shape[2])
    about.attrs["content_digest"] = recording.attrs.get("content_digest", "")
    image.attrs.update({"format": "echoloom image", "format_version": 1, "complete": 1})
