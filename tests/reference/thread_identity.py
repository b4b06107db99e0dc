"""Echoes do not depend on how many threads compute them: the same bytes for 1, 2 and 3, for every family of arrays and scans.

    thread_identity.py PROGRAM

Each phantom has points and speckle enough for several cells, and some of it lies outside the elevation plane.
"""

import sys
import tempfile
import unittest

import h5py

import array_cases
import scenario

RATE = 30.0


def phantom():
    scattering = scenario.speckle_phantom(box_mm=((-8, 8), (-2, 2), (18, 32)), density_per_mm3=1.0, seed=5)
    points = scenario.points_phantom([(1.0, 0.0, 20.0, 10.0), (-5.0, 1.5, 28.0, 10.0)],
                                     scenario.medium(attenuation_dB_cm_MHz=0.5))
    return scattering | points


class ThreadIdentity(unittest.TestCase):
    program = None

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.product = scenario.Product(self.program, folder.name)

    def samples(self, probe, scan, *options):
        output = self.product.folder / "recording.h5"
        self.product.run("simulate", self.product.write("phantom.toml", phantom()), "--probe",
                         self.product.write("probe.toml", probe), "--scan", self.product.write("scan.toml", scan), "-o", output,
                         "--force", *options)
        with h5py.File(output) as file:
            return file["receive/rf"][...]

    def hold(self, probe, scan):
        one = self.samples(probe, scan, "--threads", 1)
        self.assertGreater(abs(one).max(), 0.0)
        for options in (("--threads", 2), ("--threads", 3), ("--threads", 3, "--cells-per-block", 2)):
            more = self.samples(probe, scan, *options)
            self.assertEqual(one.tobytes(), more.tobytes(), options)

    def test_curved(self):
        self.hold(array_cases.curved(elements=16), scenario.focused_lines(RATE, 3, 25.0, 8, 34.0, 14.0, receive_elements=12))

    def test_sector(self):
        probe = scenario.phased_probe(**(array_cases.PHASED | dict(elements=16)))
        self.hold(probe, scenario.sector_lines(RATE, 3, 45.0, 25.0, 34.0, 14.0))

    def test_rows(self):
        probe = scenario.rows_probe(**(array_cases.ROWS | dict(columns=8)))
        self.hold(probe, scenario.focused_lines(RATE, 3, 25.0, 6, 34.0, 14.0, receive_elements=6))

    def test_diverging_waves(self):
        probe = scenario.linear_probe(**(array_cases.FLAT | dict(elements=16)))
        self.hold(probe, scenario.diverging_waves(RATE, [-1.5, 1.5], 6.0, 34.0, 14.0))

    def test_zones(self):
        probe = scenario.linear_probe(**(array_cases.FLAT | dict(elements=16)))
        self.hold(probe, dict(kind="focused", lines=3, focus_depths_mm=[15.0, 30.0], transmit_f_number=4.0, sampling_MHz=RATE,
                              depth_mm=34.0, min_depth_mm=14.0))

    def test_fan(self):
        probe = scenario.linear_probe(**(array_cases.FLAT | dict(elements=16)))
        self.hold(probe, scenario.focused_lines(RATE, 3, 25.0, 8, 34.0, 14.0, fan_deg=20.0))

    def test_rings_standing_and_rotating(self):
        for standing in (True, False):
            self.hold(array_cases.RINGS, scenario.swept(RATE, 3, 25.0, 34.0, 14.0, axis_to_face_mm=8.0, standing=standing,
                                                        rotation_rate_rpm=1200.0))


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    ThreadIdentity.program = sys.argv.pop(1)
    unittest.main(verbosity=2)
