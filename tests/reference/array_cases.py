"""Cases of the engine's accuracy for curved, phased and cut arrays, the ways to scan with them, and heads of rings."""

import random

import numpy as np

import scenario
from cases import LOSSY, MEDIA, STEEP, STILL, Case, at

CURVED = dict(radius_mm=40.0, elements=32, pitch_mm=0.6, width_mm=0.55, height_mm=8.0, center_MHz=3.5, bandwidth_percent=65.0)
PHASED = dict(elements=32, pitch_mm=0.3, width_mm=0.27, height_mm=8.0, center_MHz=2.5, bandwidth_percent=65.0)
FLAT = dict(elements=32, pitch_mm=0.3, width_mm=0.28, height_mm=5.0, center_MHz=5.0, bandwidth_percent=60.0)
ROWS = dict(columns=16, rows=3, pitch_mm=0.4, width_mm=0.35, row_pitch_mm=2.0, height_mm=1.9, center_MHz=5.0,
            bandwidth_percent=60.0)
RATE = 30.0  # MHz; enough for all of these


def curved(lens=True, baffle="rigid", **others):
    return scenario.curved_probe(**(CURVED | others), elevation_focus_mm=50.0 if lens else None, baffle=baffle)


def on_radius(range_mm, angle_deg, elevation_mm=0.0, radius_mm=CURVED["radius_mm"]):
    """A point `range_mm` below the face of a curved array, on the radius at an angle."""
    angle = np.radians(angle_deg)
    return (round(float((radius_mm + range_mm) * np.sin(angle)), 6), elevation_mm,
            round(float((radius_mm + range_mm) * np.cos(angle) - radius_mm), 6), 0.0)


def curved_cases():
    def pairs(range_mm):
        return scenario.full_matrix(RATE, range_mm + 14.0, max(0.0, range_mm - 12.0))

    lines = scenario.focused_lines(RATE, 7, 40.0, 16, 62.0, 20.0, line_spacing_mm=2.4, receive_elements=24)
    return [
        Case("curved, lens, 0.5: 5 mm below the face", curved(), LOSSY, [at(5)], scan=pairs(5)),
        Case("curved, lens, no loss: 50 mm (lens's focus), along the outermost radius", curved(), STILL,
             [on_radius(50, 13.5)], scan=pairs(50)),
        Case("curved, no lens, 0.7^1.1 dispersive: 40 mm, off the radii at 40 deg, y 3 mm", curved(False), STEEP,
             [at(40, 40, 3.0)], scan=scenario.full_matrix(RATE, 60.0, 15.0)),
        Case("curved, lens, soft, 0.5: 120 mm, 10 deg, y -8 mm", curved(True, "soft"), LOSSY, [on_radius(120, 10, -8.0)],
             scan=pairs(120)),
        Case("curved, lens, 0.5: focused lines along radii, 38 mm, on one", curved(), LOSSY, [on_radius(38, 3.437747)],
             scan=lines),
        Case("curved, lens, no loss: focused lines steered 10 deg, 45 mm, between radii", curved(), STILL,
             [on_radius(45, -5.0, 2.0)], scan=lines | dict(steer_deg=10.0)),
        Case("curved, no lens, 0.5: diverging waves, 60 mm", curved(False), LOSSY, [on_radius(60, 8)],
             scan=scenario.diverging_waves(RATE, [-5.0, 6.0], 30.0, 80.0, 40.0, transmit_elements=20)),
    ]


def sector_cases():
    phased, coarse = scenario.phased_probe(**PHASED), scenario.phased_probe(**(PHASED | dict(pitch_mm=0.6)))
    to_60 = scenario.sector_lines(25.0, 5, 60.0, 50.0, 75.0, 30.0)
    return [
        Case("phased, lines to 60 deg, 0.5: 50 mm on the line at 60 deg", phased, LOSSY, [at(50, 60)], scan=to_60),
        Case("phased, lines to 60 deg, no loss: 45 mm, between lines, y 4 mm", phased, STILL, [at(45, -42, 4.0)], scan=to_60),
        Case("phased, coarse pitch, 0.7^1.1 dispersive: in a grating lobe", coarse, STEEP, [at(60, -9.2)], scan=to_60),
        Case("phased, soft, lens: 110 mm, 30 deg", scenario.phased_probe(**PHASED, baffle="soft", elevation_focus_mm=70.0),
             LOSSY, [at(110, 30)], scan=scenario.sector_lines(25.0, 3, 30.0, 70.0, 122.0, 100.0)),
    ]


def rows_cases():
    rows = scenario.rows_probe(**ROWS)
    lines = scenario.focused_lines(RATE, 5, 30.0, 12, 45.0, 20.0, line_spacing_mm=0.5, receive_elements=12)
    return [
        Case("rows, 0.5: every pair, 6 mm, y 1 mm", rows, LOSSY, [at(6, 10, 1.0)], scan=scenario.full_matrix(RATE, 15.0)),
        Case("rows, no loss: focused lines with their own delays, 30 mm", rows, STILL, [at(30, 0, 0.0)], scan=lines),
        Case("rows, soft, 0.5: focused lines, 35 mm, y 2.5 mm", scenario.rows_probe(**ROWS, baffle="soft"), LOSSY,
             [at(35, 3, 2.5)], scan=lines),
    ]


def scan_cases():
    flat, lens = scenario.linear_probe(**FLAT), scenario.linear_probe(**FLAT, elevation_focus_mm=25.0)
    fan = scenario.focused_lines(RATE, 5, 25.0, 20, 45.0, 12.0, line_spacing_mm=1.5, fan_deg=25.0, receive_elements=24)
    zones = dict(kind="focused", lines=3, line_spacing_mm=1.2, focus_depths_mm=[10.0, 20.0, 40.0], transmit_f_number=2.5,
                 receive_elements=20, sampling_MHz=RATE, depth_mm=45.0, min_depth_mm=5.0)
    diverging = scenario.diverging_waves(RATE, [-3.0, 0.0, 4.0], 8.0, 40.0, 10.0, transmit_window="hann")
    return [
        Case("fan of lines, lens, 0.5: 28 mm, 20 deg", lens, LOSSY, [at(28, 20, 1.0)], scan=fan),
        Case("fan of lines, no loss: 18 mm on axis", flat, STILL, [at(18)], scan=fan),
        Case("three zones, lens, 0.5: 20 mm", lens, LOSSY, [at(20)], scan=zones),
        Case("three zones, 0.7^1.1 dispersive: 38 mm, -5 deg, y 2 mm", flat, STEEP, [at(38, -5, 2.0)], scan=zones),
        Case("diverging waves, lens, 0.5: 25 mm, 30 deg", lens, LOSSY, [at(25, 30)], scan=diverging),
        Case("diverging waves, no loss: 22 mm, -12 deg, y -3 mm", flat, STILL, [at(22, -12, -3.0)], scan=diverging),
    ]


# ---- rings --------------------------------------------------------------------------------------------------------------

RINGS = scenario.equal_rings_probe(4, 6.0, 0.1, 3.5, 60.0)
DISC = scenario.rings_probe([0.0, 5.0], 3.0, 60.0)
UNEQUAL = scenario.rings_probe([0.0, 1.5, 1.7, 3.0, 3.2, 5.0], 5.0, 60.0)
WHEEL = dict(rotation_rate_rpm=3000.0, heads=5)  # common practice, no source


def head_scan(range_mm, lines=1, before_mm=9.0, after_mm=14.0, **others):
    depths = dict(depth_mm=range_mm + after_mm, min_depth_mm=max(0.0, range_mm - before_mm))
    return scenario.swept(25.0, lines, round(max(20.0, 0.8 * range_mm), 3), **depths, **others)


def ring_cases():
    aside = dict(rotation_rate_rpm=60.0, axis_to_face_mm=8.0, standing=True)
    return [
        Case("disc, standing, no loss: 20 mm on axis", DISC, STILL, [at(20)], scan=head_scan(20, standing=True)),
        Case("disc, standing, 0.5: 20 mm, r = 3 mm", DISC, LOSSY, [(1.8, 2.4, 20.0, 0.0)], scan=head_scan(20, standing=True)),
        Case("disc, standing, no loss: 5 mm, at the edge r = a", DISC, STILL, [(5.0, 0.0, 5.0, 0.0)],
             scan=head_scan(5, standing=True)),
        Case("rings, standing, 0.5: 5 mm on axis", RINGS, LOSSY, [at(5)], scan=head_scan(5, standing=True)),
        Case("rings, standing, 0.7^1.1 dispersive: 5 mm, r = 6 mm", RINGS, STEEP, [(0.0, 6.0, 5.0, 0.0)],
             scan=head_scan(5, standing=True)),
        Case("rings, standing, no loss: 40 mm on the line at 20 deg, axis 8 mm behind", RINGS, STILL,
             [on_radius(40, 20, radius_mm=8.0)], scan=head_scan(40, 3, **aside)),
        Case("rings, standing, 0.7^1.1 dispersive: 60 mm, 45 deg off", RINGS, STEEP, [at(60, 45)],
             scan=head_scan(60, standing=True)),
        Case("rings, standing, no loss: 30 mm, 45 deg off, out of the plane", RINGS, STILL, [(12.0, 17.493, 21.213, 0.0)],
             scan=head_scan(30, standing=True)),
        Case("rings, standing, 0.5: 120 mm on axis", RINGS, LOSSY, [at(120)], scan=head_scan(120, standing=True)),
        Case("unequal rings, standing, 0.5: 25 mm, 12 deg, two rings transmit", UNEQUAL, LOSSY, [at(25, 12, 1.0)],
             scan=head_scan(25, standing=True, transmit_rings=2)),
        Case("rings, rotating, 0.5: 40 mm on axis", RINGS, LOSSY, [at(40)],
             scan=head_scan(40, axis_to_face_mm=8.0, **WHEEL)),
        Case("rings, rotating, no loss: 120 mm on axis", RINGS, STILL, [at(120)],
             scan=head_scan(120, axis_to_face_mm=8.0, **WHEEL)),
        Case("rings, rotating, 0.7^1.1 dispersive: 70 mm on the line at -20 deg, y 3 mm", RINGS, STEEP, [at(70, -20, 3.0)],
             scan=head_scan(70, 3, rotation_rate_rpm=600.0)),
        Case("rings, rotating, 0.5: 6 mm, r = a", RINGS, LOSSY, [(6.0, 0.0, 6.0, 0.0)],
             scan=head_scan(6, axis_to_face_mm=12.0, **WHEEL)),
        Case("unequal rings, rotating, no loss: three points together", UNEQUAL, STILL,
             [at(18, 4), at(21, -8, 2.0), at(24, 15, -1.0)], scan=head_scan(21, axis_to_face_mm=10.0, **WHEEL)),
    ]


def everyday():
    return curved_cases() + sector_cases() + rows_cases() + scan_cases() + ring_cases()


# ---- the sweep ------------------------------------------------------------------------------------------------------------

def random_curved(draw, number, medium):
    shape = dict(radius_mm=round(draw.uniform(12.0, 80.0), 1), pitch_mm=round(draw.uniform(0.2, 0.7), 2),
                 height_mm=round(draw.uniform(2.0, 12.0), 1), center_MHz=draw.choice([3.0, 5.0]))
    shape["width_mm"] = round(shape["pitch_mm"] * draw.uniform(0.5, 1.0), 3)
    half_deg = np.degrees(15.5 * shape["pitch_mm"] / shape["radius_mm"])
    range_mm, angle = round(4.0 * 35.0 ** draw.random(), 2), round(draw.uniform(-1, 1) * (half_deg + 15), 2)
    point = on_radius(range_mm, angle, round(draw.choice([0.0, draw.uniform(-0.3, 0.3) * range_mm]), 2), shape["radius_mm"])
    deep = range_mm + 31 * shape["pitch_mm"] + 4.0
    kinds = [scenario.full_matrix(RATE, deep, max(0.0, range_mm - 18.0)),
             scenario.focused_lines(RATE, 5, 30.0, 16, deep, max(0.0, range_mm - 18.0), receive_elements=16,
                                    line_spacing_mm=shape["pitch_mm"] * 3)]
    return Case(f"curved {number}: {shape}, {medium}: {range_mm} mm below the face at {angle} deg, y {point[1]}",
                curved(draw.random() < 0.6, draw.choice(["rigid", "soft"]), **shape), MEDIA[medium], [point],
                scan=draw.choice(kinds))


def random_flat(draw, number, medium):
    range_mm, angle = round(5.0 * 24.0 ** draw.random(), 2), round(draw.uniform(-60, 60), 1)
    elevation = round(draw.choice([0.0, draw.uniform(-0.3, 0.3) * range_mm]), 2)
    least, most = max(0.0, range_mm - 12.0), range_mm + 20.0
    phased = scenario.phased_probe(**(PHASED | dict(pitch_mm=draw.choice([0.3, 0.45, 0.6]))),
                                   elevation_focus_mm=draw.choice([None, 60.0]))
    flat = scenario.linear_probe(**FLAT, elevation_focus_mm=draw.choice([None, 25.0]), baffle=draw.choice(["rigid", "soft"]))
    what, probe, scan = draw.choice([
        ("sector", phased, scenario.sector_lines(RATE, 5, 60.0, 50.0, most, least)),
        ("sector of diverging waves", phased, scenario.diverging_waves(RATE, [-2.0, 3.0], 6.0, most, least)),
        ("rows", scenario.rows_probe(**ROWS), scenario.focused_lines(RATE, 5, 30.0, 12, most, least, line_spacing_mm=0.5)),
        ("fan", flat, scenario.focused_lines(RATE, 5, 25.0, 20, most, least, line_spacing_mm=1.5, fan_deg=30.0)),
        ("zones", flat, dict(kind="focused", lines=2, focus_depths_mm=[10.0, 30.0, 60.0], transmit_f_number=2.0,
                             sampling_MHz=RATE, depth_mm=most, min_depth_mm=least))])
    return Case(f"{what} {number}, {medium}: {range_mm} mm, {angle} deg, y {elevation}", probe, MEDIA[medium],
                [at(range_mm, angle, elevation)], scan=scan)


def random_head(draw, number, medium):
    rings, radius = draw.choice([1, 3, 5, 8]), round(draw.uniform(3.0, 10.0), 1)
    probe = scenario.equal_rings_probe(rings, radius, draw.choice([0.0, 0.05]), draw.choice([3.0, 5.0, 7.5]), 60.0)
    range_mm, angle = round(5.0 * 24.0 ** draw.random(), 2), round(draw.choice([0.0, 2.0, 10.0, 45.0]) * draw.uniform(-1, 1), 2)
    aside = draw.choice([0.0, radius * draw.uniform(0.9, 1.1)]) if range_mm < 30 else 0.0
    around = draw.uniform(0, 2 * np.pi)
    x, y, z, strength = at(range_mm, angle)
    point = (round(x + aside * np.cos(around), 4), round(y + aside * np.sin(around), 4), max(z, 5.0), strength)
    scan = head_scan(range_mm, 1, 12.0, 25.0, standing=draw.random() < 0.4, axis_to_face_mm=draw.choice([0.0, 10.0]),
                     rotation_rate_rpm=draw.choice([300.0, 3000.0])) | dict(sampling_MHz=45.0)
    return Case(f"head {number}: {rings} rings, radius {radius}, {probe['center_MHz']} MHz, "
                f"{'standing' if scan['standing'] else 'rotating'}, {medium}: {point[:3]}", probe, MEDIA[medium], [point],
                scan=scan)


def sweep(count):
    """As many cases in all, the same draw every time."""
    draw = random.Random(31)
    for number in range(count):
        yield draw.choice([random_curved, random_flat, random_head])(draw, number, draw.choice(list(MEDIA)))
