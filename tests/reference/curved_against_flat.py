"""Holds each element of a curved array to a flat probe of that one element, with the target turned into its frame.

    curved_against_flat.py PROGRAM

No formula for the echo at all: only the geometry of an arc (elements `pitch` apart along it, each looking along its radius)
and the command run twice. Both runs are the same physics, but the engine chooses its windows for the whole array: 1e-4 of
the echo is a third of its stated tolerance (3e-4, DEVELOPERS.md). With a zero-phase loss both runs cut the echo's long tails,
each elsewhere and by up to that tolerance (measured between them: 1.5e-4), so there the tolerance itself is the limit.
"""

import sys
import tempfile
import unittest

import numpy as np

import scenario
from brute_force import read_recording
from cases import LOSSY, STEEP, STILL

ELEMENT = dict(width_mm=0.5, height_mm=7.0, center_MHz=4.0, bandwidth_percent=60.0)
COUNT, PITCH_mm, RADIUS_mm = 5, 4.0, 24.0
TOLERANCE, WITH_TAILS = 1e-4, 3e-4


def seen_from(element, point_mm):
    """A point in the frame of an element of the arc: x along the face, y elevation, z outwards."""
    angle = (element - (COUNT - 1) / 2) * PITCH_mm / RADIUS_mm
    x, y, z = point_mm
    from_axis = z + RADIUS_mm
    return (np.cos(angle) * x - np.sin(angle) * from_axis, y, np.sin(angle) * x + np.cos(angle) * from_axis - RADIUS_mm)


class CurvedAgainstFlat(unittest.TestCase):
    program = None

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.product = scenario.Product(self.program, folder.name)

    def trace(self, point_mm, probe, medium, scan):
        return read_recording(self.product.simulate(scenario.points_phantom([(*point_mm, 0.0)], medium), probe, scan))

    def hold(self, point_mm, medium, tolerance, **others):
        scan = scenario.full_matrix(40.0, 75.0, 10.0)
        bent = self.trace(point_mm, scenario.curved_probe(RADIUS_mm, COUNT, PITCH_mm, **ELEMENT, **others), medium, scan)
        worst = 0.0
        for element in range(COUNT):
            flat = self.trace(seen_from(element, point_mm), scenario.linear_probe(1, PITCH_mm, **ELEMENT, **others), medium, scan)
            self.assertEqual(flat.start_s[0], bent.start_s[element])
            samples = min(flat.rf.shape[2], bent.rf.shape[2])
            one, other = bent.rf[element, element, :samples].astype(float), flat.rf[0, 0, :samples].astype(float)
            worst = max(worst, np.linalg.norm(one - other) / np.linalg.norm(other))
        print(f"    {point_mm} mm: worst relative L2 difference of {COUNT} elements {worst:.1e}", flush=True)
        self.assertLess(worst, tolerance)

    def test_no_loss(self):
        self.hold((3.0, 1.0, 30.0), STILL, TOLERANCE)

    def test_lens(self):
        self.hold((-9.0, -2.0, 25.0), STILL, TOLERANCE, elevation_focus_mm=30.0)

    def test_lens_and_loss(self):
        self.hold((-9.0, -2.0, 25.0), LOSSY, WITH_TAILS, elevation_focus_mm=30.0)

    def test_soft_baffle_and_dispersion(self):
        self.hold((14.0, 0.0, 35.0), STEEP, TOLERANCE, baffle="soft")


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    CurvedAgainstFlat.program = sys.argv.pop(1)
    unittest.main(verbosity=2)
