"""Writes a recording of acquired data as somebody else would: with h5py alone, no phantom, no source text, nothing of ours installed.

    acquired_recording.py OUT.h5 [full_matrix | lines] [minimal | complete]

The echoes are those of two points in water, each an ideal Gaussian pulse at (transmit path + receive path) / c.
`minimal` leaves out whatever sim/recording/format.md calls optional; `complete` writes it all, with texts of fixed length, gzip and a
digest. Numbers are stored as h5py stores them by default (scalars as true scalars, texts of variable length).
"""

import hashlib
import sys

import h5py
import numpy as np

SOUND_SPEED = 1482.0
CENTER_HZ = 4.0e6
BANDWIDTH = 0.6
RATE_HZ = 25.0e6
ELEMENTS = 24
PITCH_M = 0.25e-3
POINTS_M = np.array([[0.6e-3, 0.0, 20.0e-3], [-0.9e-3, 0.0, 24.0e-3]])
STRENGTHS = np.array([1.0, 0.8])

# The digest takes the samples and then these, in this order.
DIGEST_ORDER = [
    "receive/element", "receive/sampling_rate_Hz", "receive/start_time_s",
    "probe/kind", "probe/baffle", "probe/center_Hz", "probe/bandwidth_fraction", "probe/elevation_focus_m",
    "probe/pitch_m", "probe/element_center_m", "probe/element_normal", "probe/element_size_m",
    "transmit/kind", "transmit/origin_m", "transmit/direction", "transmit/focus_m", "transmit/delay_s",
    "transmit/weight", "transmit/line",
    "medium/sound_speed_m_s", "medium/attenuation_dB_cm_MHz", "medium/attenuation_exponent", "medium/dispersive",
]
INTEGERS = {"receive/element", "transmit/line", "medium/dispersive"}
OPTIONAL = {"probe/kind": "linear", "probe/baffle": "rigid", "probe/elevation_focus_m": np.inf, "probe/pitch_m": 0.0,
            "medium/attenuation_dB_cm_MHz": 0.0, "medium/attenuation_exponent": 1.0, "medium/dispersive": 0}


def pulse(t):
    """Amplitude spectrum one half at center +- bandwidth / 2."""
    sigma_f = BANDWIDTH * CENTER_HZ / (2.0 * np.sqrt(2.0 * np.log(2.0)))
    return np.exp(-0.5 * (2.0 * np.pi * sigma_f * t) ** 2) * np.cos(2.0 * np.pi * CENTER_HZ * t)


def echoes(transmit_path_m, element_m, start_s, samples):
    """[channel, sample] of one event; transmit_path_m has one entry per point."""
    t = start_s + np.arange(samples) / RATE_HZ
    rf = np.zeros((len(element_m), samples))
    for point, strength, out in zip(POINTS_M, STRENGTHS, transmit_path_m):
        back = np.linalg.norm(point - element_m, axis=1)
        rf += strength * pulse(t[None, :] - (out + back)[:, None] / SOUND_SPEED)
    return rf.astype(np.float32)


def acquired(kind):
    """Every dataset of a recording by path, without leading slash."""
    x = (np.arange(ELEMENTS) - 0.5 * (ELEMENTS - 1)) * PITCH_M
    center = np.stack([x, 0 * x, 0 * x], axis=1)
    start, samples = 24.0e-6, 512
    if kind == "full_matrix":
        events, received = ELEMENTS, np.tile(np.arange(ELEMENTS), (ELEMENTS, 1))
        origin, focus = center, np.full((events, 3), np.nan)
        delay, weight = np.zeros((events, ELEMENTS)), np.eye(ELEMENTS)
        paths = [np.linalg.norm(POINTS_M - o, axis=1) for o in origin]
        words = ["element"] * events
    else:
        # Each line fires 8 elements at a focus 22 mm deep; the front that passes a point in its beam is taken as its depth.
        events = ELEMENTS - 8 + 1
        received = np.array([np.arange(e, e + 8) for e in range(events)])
        origin = np.stack([x[received].mean(axis=1), np.zeros(events), np.zeros(events)], axis=1)
        focus = origin + [0.0, 0.0, 22.0e-3]
        distance = np.linalg.norm(focus[:, None, :] - center[None, :, :], axis=2)
        delay = (22.0e-3 - distance) / SOUND_SPEED
        weight = np.zeros((events, ELEMENTS))
        for event in range(events):
            weight[event, received[event]] = 1.0
        paths = [POINTS_M[:, 2] for _ in range(events)]
        words = ["focused"] * events
    down = np.tile([0.0, 0.0, 1.0], (events, 1))
    rf = np.stack([echoes(p, center[h], start, samples) for p, h in zip(paths, received)])
    if kind == "lines":  # a beam: echoes fade with the distance of their line from the point
        rf *= np.exp(-((origin[:, 0] - POINTS_M[0, 0]) / 0.8e-3) ** 2).astype(np.float32)[:, None, None]
    return {
        "receive/rf": rf, "receive/element": received, "receive/sampling_rate_Hz": RATE_HZ,
        "receive/start_time_s": np.full(events, start),
        "probe/kind": "linear", "probe/baffle": "soft", "probe/center_Hz": CENTER_HZ, "probe/bandwidth_fraction": BANDWIDTH,
        "probe/elevation_focus_m": 30.0e-3, "probe/pitch_m": PITCH_M, "probe/element_center_m": center,
        "probe/element_normal": np.tile([0.0, 0.0, 1.0], (ELEMENTS, 1)),
        "probe/element_size_m": np.tile([0.22e-3, 5.0e-3], (ELEMENTS, 1)),
        "transmit/kind": words, "transmit/origin_m": origin, "transmit/direction": down, "transmit/focus_m": focus,
        "transmit/delay_s": delay, "transmit/weight": weight, "transmit/line": np.arange(events),
        "medium/sound_speed_m_s": SOUND_SPEED, "medium/attenuation_dB_cm_MHz": 0.002, "medium/attenuation_exponent": 2.0,
        "medium/dispersive": 0,
    }


def without_optional(data):
    data = {path: value for path, value in data.items() if path not in OPTIONAL and path != "transmit/line"}
    if np.isnan(data["transmit/focus_m"]).all():
        del data["transmit/focus_m"]
    return data


def digest(data):
    """The content digest, from values alone; what is optional and missing counts as its default."""
    events = len(data["transmit/kind"])
    defaults = OPTIONAL | {"transmit/line": np.arange(events), "transmit/focus_m": np.full((events, 3), np.nan)}
    sha = hashlib.sha256(np.ascontiguousarray(data["receive/rf"], dtype="<f4").tobytes())
    for path in DIGEST_ORDER:
        value = data.get(path, defaults.get(path))
        if path.endswith(("kind", "baffle")):
            texts = [value] if isinstance(value, (str, bytes)) else value
            value = b"".join((t if isinstance(t, bytes) else t.encode()) + b"\0" for t in texts)
        else:
            value = np.ascontiguousarray(value, dtype="<i4" if path in INTEGERS else "<f8").tobytes()
        sha.update(value)
    return "sha256:" + sha.hexdigest()


def write(path, data, attributes=None, fixed_texts=False, **storage):
    """`storage` goes to h5py's create_dataset for rf."""
    marks = {"format": "echoloom recording", "format_version": 1, "complete": True} | (attributes or {})
    with h5py.File(path, "w") as file:
        for name, value in data.items():
            if name == "receive/rf":
                file.create_dataset(name, data=value, **storage)
            elif fixed_texts and isinstance(value, str):
                file[name] = np.bytes_(value)
            elif fixed_texts and isinstance(value, list):
                file[name] = np.array(value, dtype="S")
            else:
                file[name] = value
        for name, value in marks.items():
            if value is not None:
                file.attrs[name] = np.bytes_(value) if fixed_texts and isinstance(value, str) else value


def write_minimal(path, kind="full_matrix"):
    write(path, without_optional(acquired(kind)))


def write_complete(path, kind="full_matrix"):
    data = acquired(kind)
    write(path, data, {"content_digest": digest(data)}, fixed_texts=True, compression="gzip", shuffle=True, fletcher32=True)


if __name__ == "__main__":
    words = sys.argv[2:]
    writer = write_complete if "complete" in words else write_minimal
    writer(sys.argv[1], "lines" if "lines" in words else "full_matrix")
