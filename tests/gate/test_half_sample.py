"""A half-sample error in the delays turns the gate red, with a picture that shows where; another number of threads does
not. (All other faults: try_faults.py, among the long tests.)  test_half_sample.py BUILD PICTURES"""

import json
import sys
import tempfile
import tomllib
import unittest
from pathlib import Path

from try_faults import DIFFERENT, HERE, SAME, Bench

BUILD, PICTURES = sys.argv.pop(1), sys.argv.pop(1)
POINTS = [(-2.6, 9.0), (1.7, 15.5), (3.4, 22.0), (-1.1, 28.0)]  # of phantoms/points.toml, mm
SCENARIO = "linear_lines.straight_from_samples"


class HalfSample(unittest.TestCase):
    def test_half_a_sample_is_red_and_shown(self):
        fault = next(f for f in tomllib.loads((HERE / "faults.toml").read_text())["fault"]
                     if f["name"] == "half_sample")
        picture = Path(PICTURES) / (SCENARIO + ".png")
        picture.unlink(missing_ok=True)
        with tempfile.TemporaryDirectory(prefix="echoloom-half-sample-") as scratch:
            bench = Bench(BUILD, scratch)
            self.assertEqual(bench.run(bench.gate, [SCENARIO]).returncode, SAME)
            self.assertEqual(bench.run(bench.gate, [SCENARIO, "--threads", "3"]).returncode, SAME)
            bench.scratch = Path(scratch)
            report = Path(scratch) / "report.json"
            program = bench.built(fault, Path(scratch) / "fault")
            done = bench.run(program, [SCENARIO, "--json", str(report), "--pictures", PICTURES])
            self.assertEqual(done.returncode, DIFFERENT, done.stdout + done.stderr)
            pair = json.loads(report.read_text())["pairs"][0]
        self.assertEqual(picture.read_bytes()[:8], b"\x89PNG\r\n\x1a\n")
        # It stands where the points are, and where the text says.
        envelope = next(s for s in pair["samples"] if s["name"] == "image")
        words = envelope["largest_at"].replace("x ", "").replace("depth ", "").replace(" mm", "").split(", ")
        x, depth = map(float, words)
        self.assertLess(min(abs(x - px) + abs(depth - pz) for px, pz in POINTS), 1.0)
        # Half a sample of 40 MHz is 9.6 um of depth; every point moves up by as much.
        moved = [n["change"] for n in pair["numbers"] if n["name"] == "points.axial_error_mm"]
        self.assertEqual(len(moved), len(POINTS))
        for change in moved:
            self.assertAlmostEqual(change, -0.5 * 1540 / 40e6 / 2 * 1e3, delta=5e-4)


if __name__ == "__main__":
    unittest.main()
