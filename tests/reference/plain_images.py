"""Delay-and-sum images in NumPy, as a student would write them: whole columns of pixels at a time, linear interpolation.

    plain_images.py FOLDER [--fraction F]       F: share of the image's columns that are formed

FOLDER: samples [event, channel, sample], product [column, depth, 2] or [line, depth], element_x_m, x_m, depth_m, start_s [event],
direction [event, 3], origin_x_m [event], listeners [event, channel].

The same work as the product's: samples made analytic by one Fourier transform for pixels, as recorded for lines; no low cut. An
element counts by the share of its pitch inside the aperture, times the window at the middle of that share; the weights of a
pixel sum to one."""

import numpy as np

import timing


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
    width = np.clip(depth_m / case.f_number, pitch, case.most_elements * pitch)[:, None]
    low = np.maximum(offset_m - pitch / 2, -width / 2)
    high = np.minimum(offset_m + pitch / 2, width / 2)
    share = (high - low) / pitch
    weight = np.where(share > 1e-9, share * hann((low + high) / 2 / width), 0.0)
    total = weight.sum(axis=1, keepdims=True)
    return (weight / np.where(total > 0, total, 1)).astype(np.float32)


def interpolate(trace, position):
    """Linear, of one trace at many places; 0 outside."""
    base = np.floor(position).astype(np.int64)
    inside = (base >= 0) & (base < len(trace) - 1)
    base = np.where(inside, base, 0)
    part = (position - base).astype(np.float32)
    return np.where(inside, trace[base] + part * (trace[base + 1] - trace[base]), 0)


def transmit_paths(case, event, x, depth):
    """[depth] from time zero."""
    if case.kind == "matrix":
        return np.hypot(x - case.element_x[event], depth)
    direction = case.directions[event]
    return (x - case.origin_x[event]) * direction[0] + depth * direction[2]


def pixels(case, columns):
    """Complex image [column, depth]."""
    signals = analytic(case.samples)
    image = np.zeros((len(columns), len(case.depth)), np.complex64)
    scale = case.sampling_rate_Hz / case.sound_speed_m_s
    for row, column in enumerate(columns):
        x = case.x[column]
        receive_path = np.hypot(x - case.element_x[:, None], case.depth)
        weight = aperture_weights(case, case.element_x - x, case.depth)
        for event in range(len(signals)):
            if case.kind == "matrix" and case.transmit_weights == "as_receive":
                sent = weight[:, event]
            else:
                sent = np.full(len(case.depth), 1 / len(signals), np.float32)
            some = np.flatnonzero(sent)
            if len(some) == 0:
                continue
            path = transmit_paths(case, event, x, case.depth[some])
            for element in np.flatnonzero(weight[some].any(axis=0)):
                position = (path + receive_path[element, some]) * scale - case.start_s[event] * case.sampling_rate_Hz
                image[row, some] += sent[some] * weight[some, element] * interpolate(signals[event, element], position)
    return image


def lines(case, columns):
    """Real lines [line, depth]."""
    image = np.zeros((len(columns), len(case.depth)), np.float32)
    scale = case.sampling_rate_Hz / case.sound_speed_m_s
    for row, line in enumerate(columns):
        offset = case.element_x[case.heard_by[line]] - case.origin_x[line]
        weight = aperture_weights(case, offset, case.depth)
        for channel in np.flatnonzero(weight.any(axis=0)):
            path = case.depth + np.hypot(offset[channel], case.depth)
            position = path * scale - case.start_s[line] * case.sampling_rate_Hz
            image[row] += weight[:, channel] * interpolate(case.samples[line, channel], position)
    return image


def load(folder):
    case = timing.Case(folder)
    case.samples, case.product = case.array("samples"), case.array("product")
    case.element_x, case.x, case.depth = case.array("element_x_m"), case.array("x_m"), case.array("depth_m")
    case.start_s, case.directions = case.array("start_s"), case.array("direction")
    case.origin_x, case.heard_by = case.array("origin_x_m"), case.array("listeners").astype(int)
    if case.product.ndim == 3:
        case.product = case.product[..., 0] + 1j * case.product[..., 1]
    return case


def spread_columns(case, fraction):
    """Evenly over the image, since the aperture of its edges is cut."""
    count = len(case.product)
    chosen = max(1, round(count * fraction))
    return ((np.arange(chosen) + 0.5) * count / chosen).astype(int)


def main():
    chosen = timing.arguments(__doc__.splitlines()[0])
    case = load(chosen.folder)
    columns = spread_columns(case, chosen.fraction)
    form = lines if case.kind == "lines" else pixels
    seconds, image = timing.timed(lambda: form(case, columns))
    timing.say(seconds=seconds, done=len(columns) / len(case.product),
               error=timing.relative_error(case.product[columns], image))


if __name__ == "__main__":
    main()
