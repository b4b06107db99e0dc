"""The loops of plain_images.py compiled by Numba, columns side by side on all threads: as a student would who found NumPy slow.

    plain_images_compiled.py FOLDER

Compiling is not timed: a first image is formed before."""

import numba
import numpy as np

import plain_images
import timing


@numba.njit(inline="always", fastmath=True)
def interpolate(trace, position):
    base = int(np.floor(position))
    if base < 0 or base >= len(trace) - 1:
        return trace[0] * np.float32(0)
    part = np.float32(position - base)
    return trace[base] + part * (trace[base + 1] - trace[base])


@numba.njit(parallel=True, fastmath=True)
def pixels(signals, x, depth, element_x, weights, as_receive, transmit_path, start, scale):
    """weights [column, depth, element], transmit_path [column, event, depth]."""
    events, elements = len(signals), len(element_x)
    image = np.zeros((len(x), len(depth)), np.complex64)
    for column in numba.prange(len(x)):
        for row in range(len(depth)):
            total = np.complex64(0)
            for element in range(elements):
                weight = weights[column, row, element]
                if weight == 0:
                    continue
                receive = np.sqrt((x[column] - element_x[element]) ** 2 + depth[row] ** 2)
                for event in range(events):
                    transmitted = weights[column, row, event] if as_receive else np.float32(1 / events)
                    if transmitted == 0:
                        continue
                    position = (transmit_path[column, event, row] + receive) * scale - start[event]
                    total += transmitted * weight * interpolate(signals[event, element], position)
            image[column, row] = total
    return image


@numba.njit(parallel=True, fastmath=True)
def lines(samples, offsets, depth, weights, start, scale):
    """offsets [line, channel], weights [line, depth, channel]."""
    image = np.zeros((len(samples), len(depth)), np.float32)
    for line in numba.prange(len(samples)):
        for channel in range(samples.shape[1]):
            for row in range(len(depth)):
                weight = weights[line, row, channel]
                if weight != 0:
                    path = depth[row] + np.sqrt(offsets[line, channel] ** 2 + depth[row] ** 2)
                    image[line, row] += weight * interpolate(samples[line, channel], path * scale - start[line])
    return image


def form_pixels(case):
    scale = case.sampling_rate_Hz / case.sound_speed_m_s
    weights = np.stack([plain_images.aperture_weights(case, case.element_x - x, case.depth) for x in case.x])
    paths = np.stack([[plain_images.transmit_paths(case, event, x) for event in range(len(case.samples))]
                      for x in case.x]).astype(np.float32)
    as_receive = case.kind == "matrix" and case.transmit_weights == "as_receive"
    signals = np.stack([plain_images.analytic(event) for event in case.samples])
    return pixels(signals, case.x, case.depth, case.element_x, weights, as_receive, paths,
                  case.start_s * case.sampling_rate_Hz, scale)


def form_lines(case):
    offsets = case.element_x[case.received_by] - case.origin_x[:, None]
    weights = np.stack([plain_images.aperture_weights(case, offset, case.depth) for offset in offsets])
    return lines(case.samples, offsets, case.depth, weights, case.start_s * case.sampling_rate_Hz,
                 case.sampling_rate_Hz / case.sound_speed_m_s)


def main():
    chosen = timing.arguments(__doc__.splitlines()[0])
    case = plain_images.load(chosen.folder)
    form = form_lines if case.kind == "lines" else form_pixels
    form(case)
    seconds, image = timing.timed(lambda: form(case))
    timing.say(seconds=seconds, done=1.0, error=timing.relative_error(case.product, image))


if __name__ == "__main__":
    main()
