"""Holds the beams that `echoloom beam` shows to what textbooks say of near zone and divergence.

    near_zone.py PROGRAM [CLASS_OR_TEST ...]

The disc: L. E. Kinsler, A. R. Frey, A. B. Coppens & J. V. Sanders, Fundamentals of Acoustics, 4th ed. 2000, sec. 7.4 (from
memory): pressure on the axis, last maximum, far field 2 J1(x) / x. The strip: Fresnel integrals and sin(x) / x, by SciPy.
"Recomputed": by recompute_pistons.py.
"""

import json
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import numpy as np
from scipy.optimize import brentq, minimize_scalar
from scipy.special import fresnel, j1

C = 1540.0
SCAN = """\
kind = "swept"
heads = 1
rotation_rate_rpm = 60.0
window_half_angle_deg = 10.0
axis_to_face_mm = 0.0
standing = true
lines_per_sweep = 1
focus_depth_mm = {focus_mm}
sampling_MHz = 60.0
depth_mm = 60.0
"""


def axis_pressure(radius_m, wavelength_m, depth_m):
    """|p| / (rho c v) on the axis of a disc."""
    return np.abs(2.0 * np.sin(np.pi / wavelength_m * (np.hypot(depth_m, radius_m) - depth_m)))


class NearZone(unittest.TestCase):
    program = None

    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.folder = Path(scratch.name)

    def field(self, probe, scan, *more):
        for name, text in (("probe.toml", probe), ("scan.toml", scan)):
            (self.folder / name).write_text(text)
        words = [self.program, "beam", "--probe", "./probe.toml", "--scan", "./scan.toml", "--json", *more]
        done = subprocess.run(words, cwd=self.folder, capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)["beams"][0]

    def disc(self, edges_mm, MHz, *more, focus_mm=40.0):
        probe = f'kind = "annular"\nring_edges_mm = {edges_mm}\ncenter_MHz = {MHz}\nbandwidth_percent = 60.0\n'
        return self.field(probe, SCAN.format(focus_mm=focus_mm), *more)

    def hold(self, what, found, expected, relative):
        print(f"    {what}: {found:.5f}, published {expected:.5f} ({(found / expected - 1) * 100:+.3f} %)", flush=True)
        self.assertLess(abs(found / expected - 1), relative, what)

    def test_disc_axis_last_maximum_and_divergence(self):
        for MHz in (3.0, 5.0):
            wavelength = C / (MHz * 1e6)
            beam = self.disc([0.0, 5.0], MHz, "--unfocused", "--depth-mm", "150")
            for depth in beam["depths"]:
                expected = axis_pressure(5e-3, wavelength, depth["depth_mm"] * 1e-3)
                self.assertAlmostEqual(depth["axis_pressure_rho_c_v"], expected, delta=1e-6)
            self.hold(f"last maximum at {MHz} MHz (mm)", beam["last_axial_maximum_mm"],
                      (25e-6 / wavelength - wavelength / 4) * 1e3, 1e-5)
            self.hold("D^2 / (4 lambda) (mm)", beam["near_zone_theory_mm"], 1e-4 / (4 * wavelength) * 1e3, 1e-6)
            half = brentq(lambda x: 2 * j1(x) / x - 0.5, 1.0, 3.0) / np.pi  # 0.705085
            self.hold("half angle (deg)", beam["half_angle_deg"], np.degrees(np.arcsin(half * wavelength / 10e-3)), 1e-5)

    def test_disc_width_far_away_is_its_divergence(self):
        beam = self.disc([0.0, 5.0], 5.0, "--unfocused", "--depth-mm", "2000")
        sine = 0.705085 * 0.308e-3 / 10e-3
        self.hold("width at 2 m (mm)", beam["depths"][-1]["width_6dB_mm"],
                  2 * 2000 * np.tan(np.arcsin(sine)), 0.002)

    def test_larger_and_higher_push_the_near_zone_out_and_narrow_the_beam(self):
        plain = self.disc([0.0, 5.0], 3.0, "--unfocused")
        larger = self.disc([0.0, 10.0], 3.0, "--unfocused")
        higher = self.disc([0.0, 5.0], 6.0, "--unfocused")
        for beam, reach in ((larger, 4.0), (higher, 2.0)):
            self.hold("near zone against the plain disc's",
                      beam["last_axial_maximum_mm"] / plain["last_axial_maximum_mm"], reach, 0.005)
            self.hold("half angle against the plain disc's", beam["half_angle_deg"] / plain["half_angle_deg"], 0.5, 1e-3)

    def test_strip_near_zone_and_divergence(self):
        """A square, whose axis is the product of two strips': the strip's constant, 1.37 times the disc's rule (handbooks of
        materials testing, from memory)."""
        v = minimize_scalar(lambda v: -np.hypot(*fresnel(v)), bounds=(1.0, 1.5), method="bounded",
                            options={"xatol": 1e-12}).x
        probe = ('kind = "linear"\nelements = 20\npitch_mm = 0.5\nwidth_mm = 0.5\nheight_mm = 10.0\ncenter_MHz = 5.0\n'
                 "bandwidth_percent = 60.0\n")
        scan = ('kind = "plane_waves"\nangles_deg = [0.0]\nsampling_MHz = 40.0\ndepth_mm = 60.0\n'
                "sound_speed_m_s = 1540.0\n")
        beam = self.field(probe, scan, "--depth-mm", "150")
        expected = 1e-4 / (2 * v * v * 0.308e-3) * 1e3
        self.hold("rule (mm)", beam["near_zone_theory_mm"], expected, 1e-6)
        self.hold("1.37 D^2 / (4 lambda) (mm)", beam["near_zone_theory_mm"], 1.37 * 1e-4 / (4 * 0.308e-3) * 1e3, 0.005)
        self.hold("last maximum (mm)", beam["last_axial_maximum_mm"], expected, 0.005)
        half = brentq(lambda u: np.sinc(u) - 0.5, 0.3, 0.9)  # 0.603355
        self.hold("half angle (deg)", beam["half_angle_deg"], np.degrees(np.arcsin(half * 0.308 / 10)), 1e-5)

    def test_focus_falls_short_where_the_aperture_holds_few_fresnel_zones(self):
        """F/4 at 40 mm and 5 MHz: highest at 32.39 mm (focused disc by quadrature with exact distances, recomputed)."""
        edges = np.repeat(5.0 * np.sqrt(np.arange(33) / 32.0), 2)[1:-1]
        beam = self.disc([round(float(edge), 6) for edge in edges], 5.0, "--depth-mm", "60")
        self.hold("highest pressure at (mm)", beam["peak_pressure_depth_mm"], 32.39, 0.005)


if __name__ == "__main__":
    NearZone.program = sys.argv.pop(1)
    tests = [name if name.startswith("NearZone") else f"NearZone.{name}" for name in sys.argv[1:]]
    unittest.main(argv=[sys.argv[0], *tests], verbosity=2)
