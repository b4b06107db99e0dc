"""Holds the echoes of `echoloom simulate` to brute force, channel by channel.

    engine_accuracy.py [--all] [--only TEXT] [--keep FOLDER] PROGRAM

Each case writes a phantom of points, a probe and a scan, runs the command and rebuilds the geometry from the recording
alone. Hard cases hold one scatterer, so that every channel is judged on that echo and nothing louder. A channel passes
with a relative L2 error of at most 1e-3 (-60 dB) over its whole record. It is skipped only where less than 1e-6 of its
echo's energy falls inside the record.
"""

import argparse
import itertools
import random
import sys
import tempfile
import time

import numpy as np

import array_cases
import scenario
from brute_force import Synthesis, read_recording
from cases import MEDIA, LOSSY, STEEP, STILL, Case, at

TOLERANCE = 1e-3
INSIDE_AT_LEAST = 1e-6

PROBES = {
    5: dict(elements=48, pitch_mm=0.3, width_mm=0.28, height_mm=5.0, center_MHz=5.0, bandwidth_percent=60.0),
    9: dict(elements=48, pitch_mm=0.17, width_mm=0.15, height_mm=3.5, center_MHz=9.0, bandwidth_percent=70.0),
}
LENS_mm = {5: 20.0, 9: 18.0}


def probe(MHz, lens=True, baffle="rigid"):
    return scenario.linear_probe(**PROBES[MHz], elevation_focus_mm=LENS_mm[MHz] if lens else None, baffle=baffle)


def everyday_cases():
    tan20 = np.tan(np.radians(20))
    return [
        Case("5 MHz, lens, 0.5: 2 mm on axis", probe(5), LOSSY, [at(2)]),
        Case("5 MHz, lens, 0.5: 2 mm deep, 60 deg off, y 1 mm", probe(5), LOSSY, [at(2, 60, 1.0, True)]),
        Case("5 MHz, no lens, no loss: 12 mm, 30 deg, y 2 mm", probe(5, False), STILL, [at(12, 30, 2.0)]),
        Case("5 MHz, lens, soft, 0.7^1.1 dispersive: 30 mm, 60 deg", probe(5, True, "soft"), STEEP, [at(30, 60)]),
        Case("5 MHz, lens, 0.5: 150 mm on axis", probe(5), LOSSY, [at(150)]),
        Case("5 MHz, lens, no loss: 150 mm, 60 deg, 20 deg out", probe(5), STILL, [at(150, 60, 150 * tan20)]),
        Case("9 MHz, lens, 0.5: 2 mm on axis", probe(9), LOSSY, [at(2)]),
        Case("9 MHz, lens, soft, 0.7^1.1 dispersive: 5 mm deep, 45 deg, y 1.5 mm", probe(9, True, "soft"), STEEP,
             [at(5, 45, 1.5, True)]),
        Case("5 MHz, lens, no loss: 20 mm deep (the lens's focus), 30 deg", probe(5), STILL, [at(20, 30, 0, True)]),
        Case("5 MHz, lens, 0.5: 20 mm on axis (the lens's focus)", probe(5), LOSSY, [at(20)]),
        Case("9 MHz, no lens, 0.7^1.1 dispersive: 150 mm deep, 60 deg", probe(9, False), STEEP, [at(150, 60, 0, True)]),
        Case("9 MHz, no lens, no loss: 20 mm deep, 60 deg, 20 deg out", probe(9, False), STILL,
             [at(20, 60, 20 * tan20, True)]),
        Case("9 MHz, lens, 0.5: 60 mm on axis", probe(9), LOSSY, [at(60)]),
        Case("5 MHz, 20 mm high, no lens, no loss: 5 mm", probe(5, False) | dict(height_mm=20.0), STILL, [at(5)]),
        Case("9 MHz, 12 mm high, lens, no loss: 30 mm, 45 deg out", probe(9) | dict(height_mm=12.0), STILL,
             [at(30, 0, 30.0)]),
        Case("5 MHz, lens, 0.5: five points together", probe(5), LOSSY,
             [at(8, -20, 1.0), at(15, 10), at(22, 45, -3.0), at(30, 0, 6.0), at(26, -35)]),
        Case("5 MHz, lens, 0.5: focused lines, 25 mm, 15 deg", probe(5), LOSSY, [at(25, 15, 1.0)], "focused"),
        Case("9 MHz, lens, soft, no loss: plane waves, 18 mm, -20 deg", probe(9, True, "soft"), STILL, [at(18, -20, 0.5)],
             "plane"),
    ]


def sweep_cases(count):
    """A fixed random draw from the whole grid of depths, angles, elevations, media, probes, and every extreme corner."""
    draw = random.Random(20)
    grid = list(itertools.product([2, 3, 5, 10, 20, 40, 80, 150], [0, 30, 60], ["in plane", "y 2 mm", "20 deg out"], [5, 9],
                                  [True, False], list(MEDIA), ["rigid", "soft"]))
    corners = [g for g in grid if g[0] in (2, 150) and g[1] in (0, 60) and g[4] and g[6] == "rigid" and g[2] != "y 2 mm"]
    rest = [g for g in grid if g not in corners]
    chosen = corners + draw.sample(rest, max(0, count - len(corners)))
    for depth, angle, out, MHz, lens, medium, baffle in chosen:
        elevation = {"in plane": 0.0, "y 2 mm": 2.0, "20 deg out": depth * np.tan(np.radians(20))}[out]
        yield Case(f"{MHz} MHz, {'lens' if lens else 'no lens'}, {baffle}, {medium}: {depth} mm deep, {angle} deg, {out}",
                   probe(MHz, lens, baffle), MEDIA[medium], [at(depth, angle, elevation, True)])


def random_cases(count):
    """Anywhere in the range asked for, with arrays and lenses of other sizes; the same draw every time."""
    draw = random.Random(7)
    for number in range(count):
        MHz = draw.choice([5, 9])
        array = dict(PROBES[MHz])
        array["height_mm"] = round(draw.uniform(2.0, 7.0), 2)
        array["width_mm"] = round(array["pitch_mm"] * draw.uniform(0.4, 1.0), 3)
        lens = draw.choice([None, 12.0, 20.0, 45.0])
        baffle = draw.choice(["rigid", "soft"])
        medium = draw.choice(list(MEDIA))
        depth = round(2.0 * 75.0 ** draw.random(), 2)
        angle = round(draw.uniform(-60, 60), 1)
        elevation = round(depth * np.tan(np.radians(draw.choice([0.0, draw.uniform(-20, 20)]))), 3)
        kind = draw.choice(["full matrix", "full matrix", "plane"])
        yield Case(f"random {number}: {MHz} MHz, {array['width_mm']} x {array['height_mm']} mm, lens {lens}, {baffle}, {medium}, "
                   f"{kind}: {depth} mm deep, {angle} deg, y {elevation} mm",
                   scenario.linear_probe(**array, elevation_focus_mm=lens, baffle=baffle), MEDIA[medium],
                   [at(depth, angle, elevation, True)], kind)


def scan_for(case):
    """A record that starts before the first echo and ends after the last of every pair."""
    if case.scan:
        return case.scan
    half = case.probe["pitch_mm"] * 24
    nearest = min(np.hypot(max(0.0, abs(x) - half), np.hypot(y, z)) for x, y, z, _ in case.points)
    farthest = max(np.linalg.norm([abs(x) + half, y, z]) for x, y, z, _ in case.points)
    depths = dict(min_depth_mm=round(max(0.0, nearest - 3.0), 3), depth_mm=round(farthest + 4.0, 3))
    rate = 40.0 if case.probe["center_MHz"] == 5.0 else 60.0
    if case.kind == "full matrix":
        return scenario.full_matrix(rate, **depths)
    if case.kind == "plane":
        return scenario.plane_waves(rate, [-12.0, 0.0, 7.0], **depths)
    depths = dict(min_depth_mm=0.0, depth_mm=round(farthest + 8.0, 3))
    return scenario.focused_lines(rate, 9, focus_mm=20.0, transmit_elements=32, **depths)


def chosen_pairs(recording, case, many):
    events, channels = recording.element.shape
    if case.kind != "full matrix" or (case.scan and case.scan["kind"] != "full_matrix"):
        pick = lambda n, most: sorted({int(i) for i in np.linspace(0, n - 1, min(n, most))})
        return list(itertools.product(pick(events, 4), pick(channels, 6)))
    marks = [0.0, 0.28, 0.62, 1.0] if not many else list(np.linspace(0, 1, 9))
    received = [0.0, 0.15, 0.5, 1.0] if not many else list(np.linspace(0, 1, 9))
    return [(round(a * (events - 1)), round(b * (channels - 1))) for a in marks for b in received]


def compare(recording, pairs, points_m, strengths_m):
    """Yields (event, channel, relative error or None where the echo is outside the record, share of energy inside, coherence
    of the transmit sum: its size at the centre frequency over that of its parts)."""
    by_start = {}
    for event, channel in pairs:
        by_start.setdefault(recording.start_s[event], []).append((event, channel))
    for start, group in by_start.items():
        synthesis = Synthesis(recording.array, recording.medium, recording.pulse, start, recording.rate_Hz,
                              recording.rf.shape[2])
        spectra = np.zeros((len(group), synthesis.f.size), complex)
        coherence = {}
        for point, strength in zip(points_m, strengths_m):
            responses = {}

            def response(e, seen):
                """The same element may see the point from several poses of a head."""
                if (e, *seen) not in responses:
                    responses[e, *seen] = synthesis.response(e, seen)
                return responses[e, *seen]

            transmitted, middle = {}, int(np.argmin(np.abs(synthesis.f - synthesis.pulse.center_Hz)))
            for event in sorted({event for event, _ in group}):
                seen = recording.transmitted_to(event, point)
                firing = {int(e): response(int(e), seen) for e in np.flatnonzero(recording.weight[event])}
                transmitted[event] = synthesis.transmit(firing, recording.delay_s[event], recording.weight[event])
                parts = sum(abs(recording.weight[event][e] * one[middle]) for e, one in firing.items())
                coherence[event] = abs(transmitted[event][middle]) / parts
            for row, (event, channel) in enumerate(group):
                received = response(int(recording.element[event, channel]), recording.received_from(event, point))
                spectra[row] += strength * transmitted[event] * received
        expected = synthesis.samples_of(spectra)
        whole = 2 * recording.rate_Hz * (np.abs(spectra * synthesis.pulse.spectrum(synthesis.f)) ** 2 @ synthesis.weight)
        for row, (event, channel) in enumerate(group):
            inside = np.sum(expected[row] ** 2) / whole[row]
            error = np.linalg.norm(recording.rf[event, channel] - expected[row]) / np.linalg.norm(expected[row])
            yield event, channel, error if inside >= INSIDE_AT_LEAST else None, inside, coherence[event]


def check(product, case, many):
    recording = read_recording(product.simulate(scenario.points_phantom(case.points, case.medium), case.probe,
                                                scan_for(case)))
    # The oracle knows the scatterers from the case, not from what the program says of them.
    points_m = np.array([p[:3] for p in case.points]) * 1e-3
    strengths_m = 1e-3 * 10 ** (np.array([p[3] for p in case.points]) / 20)
    return list(compare(recording, chosen_pairs(recording, case, many), points_m, strengths_m)), recording


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("program")
    arguments.add_argument("--all", action="store_true", help="the full sweep (tens of minutes)")
    arguments.add_argument("--count", type=int, default=160, help="cases of the sweep over the grid, and as many random ones")
    arguments.add_argument("--only", default="", help="cases whose name contains this")
    arguments.add_argument("--keep", help="folder to leave the files in")
    chosen = arguments.parse_args()
    cases = everyday_cases() + (list(sweep_cases(chosen.count)) if chosen.all else [])
    cases += list(random_cases(chosen.count if chosen.all else 12))
    cases += array_cases.everyday() + (list(array_cases.sweep(chosen.count)) if chosen.all else [])
    worst, failed, compared, skipped = (0.0, "nothing"), 0, 0, 0
    with tempfile.TemporaryDirectory() as temporary:
        product = scenario.Product(chosen.program, chosen.keep or temporary)
        for case in cases:
            if chosen.only not in case.name:
                continue
            began = time.time()
            try:
                results, recording = check(product, case, chosen.all)
            except RuntimeError as refusal:
                print(f"FAIL  {case.name}: {refusal}", flush=True)
                failed += 1
                continue
            judged = [r for r in results if r[2] is not None]
            skipped += len(results) - len(judged)
            compared += len(judged)
            if not judged:
                print(f"NONE  {case.name}: no echo inside the record")
                failed += 1
                continue
            event, channel, error, inside, coherence = max(judged, key=lambda r: r[2])
            bad = sum(not r[2] <= TOLERANCE for r in judged)
            failed += bad > 0
            print(f"{'FAIL' if bad else 'ok  '}  {case.name}: {len(judged)} channels, worst {error:.2e} at event {event}, "
                  f"element {recording.element[event, channel]} ({inside:.1%} of its energy inside, transmit sum "
                  f"{coherence:.3f} of its parts)"
                  f"{f', {bad} over {TOLERANCE:g}' if bad else ''}, {time.time() - began:.1f} s", flush=True)
            if not error <= worst[0]:
                worst = (error, f"{case.name}, event {event}, element {recording.element[event, channel]}")
    print(f"\nworst relative L2 error of {compared} channels ({skipped} skipped as outside their record): {worst[0]:.2e} "
          f"({worst[1]}); allowed {TOLERANCE:g}")
    sys.exit(1 if failed or not compared else 0)


if __name__ == "__main__":
    main()
