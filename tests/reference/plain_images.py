"""Delay-and-sum images in NumPy, as a student would write them: whole columns of pixels at a time, linear interpolation.

    plain_images.py FOLDER [--fraction F]       F: share of the image's columns that are formed

FOLDER: samples [event, channel, sample], product [column, depth, 2] or [line, depth], element_x_m, x_m, depth_m, start_s [event],
direction [event, 3], origin_x_m [event], receivers [event, channel].

The same work as the product's: samples made analytic by one Fourier transform for pixels, as recorded for lines; no high-pass. An
element counts by the share of its pitch inside the aperture, times the window at the middle of that share; the weights of a
pixel sum to one."""

import numpy as np

import timing

TOGETHER = 8  # columns


def analytic(samples):
    """By the half spectrum, on twice the length so that nothing wraps round into the trace."""
    count = samples.shape[-1]
    spectrum = np.fft.fft(samples, 2 * count, axis=-1)
    spectrum[..., count + 1:] = 0
    spectrum[..., 1:count] *= 2
    return np.fft.ifft(spectrum, axis=-1)[..., :count].astype(np.complex64)


def hann(x):
    """On [-1/2, 1/2]."""
    return 0.5 + 0.5 * np.cos(2 * np.pi * x)


def aperture_weights(case, offset_m, depth_m):
    """[depth, element]; offsets [element] from the centre of the aperture."""
    pitch = case.pitch_m
    width = np.clip(depth_m / case.f_number, pitch, case.max_elements * pitch)[:, None]
    low = np.maximum(offset_m - pitch / 2, -width / 2)
    high = np.minimum(offset_m + pitch / 2, width / 2)
    share = (high - low) / pitch
    weight = np.where(share > 1e-9, share * hann((low + high) / 2 / width), 0.0)
    total = weight.sum(axis=1, keepdims=True)
    return (weight / np.where(total > 0, total, 1)).astype(np.float32)


SILENCE = 2  # samples on both sides of a trace, so that every place has two neighbours


def with_silence(samples):
    return np.pad(samples, [(0, 0)] * (samples.ndim - 1) + [(SILENCE, SILENCE)])


def interpolate(trace, position):
    """Linear, of one trace with silence at many places, in samples from the trace's own start."""
    position = position + SILENCE
    base = np.clip(position.astype(np.int64), 0, len(trace) - 2)
    part = (position - base).astype(np.float32)
    value = trace[base]
    return value + part * (trace[base + 1] - value)


def transmit_paths(case, event, x):
    """[.. , depth] from time zero."""
    if case.kind == "matrix":
        return np.hypot(x - case.element_x[event], case.depth)
    direction = case.directions[event]
    return (x - case.origin_x[event]) * direction[0] + case.depth * direction[2]


def signals_of(case):
    """Analytic samples with silence, one event at a time, so that the transforms stay small."""
    return np.stack([with_silence(analytic(event)) for event in case.samples])


def pixels(case, signals, columns):
    """Complex image [column, depth], some neighbouring columns at a time so that arrays stay in the cache. An element takes part
    from some depth on, where the aperture has grown to it."""
    image = np.zeros((len(columns), len(case.depth)), np.complex64)
    scale = case.sampling_rate_Hz / case.sound_speed_m_s
    for at in range(0, len(columns), TOGETHER):
        x = case.x[columns[at:at + TOGETHER], None]
        weight = np.stack([aperture_weights(case, case.element_x - one, case.depth) for one in x[:, 0]], axis=-1)
        weight = weight.transpose(1, 2, 0)  # [element, column, depth]
        used = weight.any(axis=1)
        first = np.where(used.any(axis=1), used.argmax(axis=1), len(case.depth))
        receive = [np.hypot(x - element, case.depth) * scale for element in case.element_x]
        for event in range(len(signals)):
            matched = case.kind == "matrix" and case.transmit_weights == "as_receive"
            transmitted = weight[event] if matched else np.full(weight[0].shape, 1 / len(signals), np.float32)
            sent_from = first[event] if matched else 0
            path = transmit_paths(case, event, x) * scale - case.start_s[event] * case.sampling_rate_Hz
            for element in range(len(case.element_x)):
                start = max(sent_from, first[element])
                if start < len(case.depth):
                    value = interpolate(signals[event, element], path[:, start:] + receive[element][:, start:])
                    image[at:at + TOGETHER, start:] += transmitted[:, start:] * weight[element][:, start:] * value
    return image


def lines(case, samples, columns):
    """Real lines [line, depth], from samples with silence."""
    image = np.zeros((len(columns), len(case.depth)), np.float32)
    scale = case.sampling_rate_Hz / case.sound_speed_m_s
    for row, line in enumerate(columns):
        offset = case.element_x[case.received_by[line]] - case.origin_x[line]
        weight = aperture_weights(case, offset, case.depth)
        for channel in np.flatnonzero(weight.any(axis=0)):
            path = case.depth + np.hypot(offset[channel], case.depth)
            position = path * scale - case.start_s[line] * case.sampling_rate_Hz
            image[row] += weight[:, channel] * interpolate(samples[line, channel], position)
    return image


def load(folder):
    case = timing.Case(folder)
    case.samples, case.product = case.array("samples"), case.array("product")
    case.element_x, case.x, case.depth = case.array("element_x_m"), case.array("x_m"), case.array("depth_m")
    case.start_s, case.directions = case.array("start_s"), case.array("direction")
    case.origin_x, case.received_by = case.array("origin_x_m"), case.array("receivers").astype(int)
    if case.product.ndim == 3:
        case.product = case.product[..., 0] + 1j * case.product[..., 1]
    return case


def spread_columns(case, fraction):
    """Groups of neighbours evenly over the image, since the aperture of its edges is cut."""
    count = len(case.product)
    if fraction == 1.0:
        return np.arange(count)
    groups = max(1, round(count * fraction / TOGETHER))
    starts = ((np.arange(groups) + 0.5) * count / groups).astype(int) - TOGETHER // 2
    return (starts[:, None] + np.arange(TOGETHER)).ravel()


def main():
    chosen = timing.arguments(__doc__.splitlines()[0])
    case = load(chosen.folder)
    columns = spread_columns(case, chosen.fraction)
    form, prepare = (lines, lambda: with_silence(case.samples)) if case.kind == "lines" else (pixels, lambda: signals_of(case))
    fixed, samples = timing.timed(prepare)
    seconds, image = timing.timed(lambda: form(case, samples, columns))
    timing.say(seconds=fixed + seconds, fixed_seconds=fixed, done=len(columns) / len(case.product),
               error=timing.relative_error(case.product[columns], image))


if __name__ == "__main__":
    main()
