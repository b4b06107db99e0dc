"""Holds the frame rate that `show` prints to worked examples.

    frame_rate.py PROGRAM

Frame rate = c / (2 depth lines zones): J. T. Bushberg's (The Essential Physics of Medical Imaging, ch. 14), F. W. Kremkau's and
W. R. Hedrick's textbooks (from memory; the figures recomputed with 1540 m/s by recompute_timing.py). The round trip to 1 cm is
12.987 us; the rule of 13 us is 0.1 % long and is not used.
"""

import json
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

PROBE = """\
kind = "linear"
elements = 160
pitch_mm = 0.3
width_mm = 0.27
height_mm = 5.0
center_MHz = 3.5
bandwidth_percent = 60.0
baffle = "rigid"
"""


class FrameRate(unittest.TestCase):
    program = None

    def facts(self, depth_mm, lines, zones_mm):
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "probe.toml").write_text(PROBE)
            (Path(folder) / "scan.toml").write_text(
                f'kind = "focused"\nlines = {lines}\nfocus_depths_mm = {zones_mm}\ntransmit_elements = 32\n'
                f"sampling_MHz = 20.0\ndepth_mm = {depth_mm}\n")
            command = [self.program, "show", "./scan.toml", "--probe", "./probe.toml"]
            words = subprocess.run(command, cwd=folder, check=True, capture_output=True, text=True).stdout
            numbers = subprocess.run([*command, "--json"], cwd=folder, check=True, capture_output=True, text=True).stdout
        return words, json.loads(numbers)

    def test_worked_examples(self):
        for depth_mm, lines, zones_mm, per_s in (
            (100.0, 100, [50.0], 77.0000),
            (200.0, 128, [90.0], 30.0781),
            (160.0, 120, [80.0], 40.1042),
            (150.0, 128, [50.0, 100.0], 20.0521),
            (100.0, 100, [30.0, 50.0, 80.0], 25.6667),
        ):
            words, numbers = self.facts(depth_mm, lines, zones_mm)
            found = numbers["max_frame_rate_Hz"]
            print(f"    {depth_mm:g} mm, {lines} lines, {len(zones_mm)} zones: {found:.4f} Hz, published {per_s:.4f}")
            self.assertAlmostEqual(found, per_s, delta=5e-5)  # the published figures are rounded to 4 decimals
            self.assertIn(f"2 x {depth_mm:g} mm x {lines} lines", words)
            self.assertEqual(f"{len(zones_mm)} zones" in words, len(zones_mm) > 1)

    def test_round_trip_of_one_centimetre(self):
        _, numbers = self.facts(10.0, 1, [5.0])
        self.assertAlmostEqual(numbers["round_trip_s"] * 1e6, 12.987013, delta=1e-6)


if __name__ == "__main__":
    FrameRate.program = sys.argv.pop(1)
    unittest.main()
