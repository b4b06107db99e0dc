"""Holds what `echoloom beam --pattern` and its widths say to published values of beams, one way and both ways.

    patterns.py PROGRAM [CLASS_OR_TEST ...]

Side lobes and widths of windows: F. J. Harris, Proc. IEEE 66(1), 51-83, 1978, Table I (rows from memory; recomputed by
recompute_windows.py). Disc: 2 J1(x) / x (L. E. Kinsler et al., Fundamentals of Acoustics, 4th ed. 2000, sec. 7.4, from memory;
recompute_pistons.py). Grating lobes: sin(g) = sin(s) + m lambda / p (W. L. Stutzman & G. A. Thiele, Antenna Theory and Design,
2013, p. 307). Pulsed grating lobe: O. T. von Ramm & S. W. Smith, IEEE Trans. BME 30, 438-452, 1983 ("cycles / N", from memory);
0.93944 / (B N) recomputed by a direct sum here. Elevation: the cut through a lens, recomputed by quadrature here. What else is
"recomputed" is so by recompute_arrays.py.
"""

import json
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import numpy as np
from scipy.optimize import brentq
from scipy.special import j1

C = 1540.0
LAMBDA_MM = 0.308

ROW = """\
kind = "{kind}"
elements = {elements}
pitch_mm = {pitch_mm}
width_mm = {width_mm}
height_mm = {height_mm}
center_MHz = 5.0
bandwidth_percent = {percent}
"""
WAVE = """\
kind = "plane_waves"
angles_deg = [{angle_deg}]
sampling_MHz = 40.0
depth_mm = 60.0
"""
BEAM = """\
kind = "swept"
heads = 1
rotation_rate_rpm = 60.0
window_half_angle_deg = 10.0
axis_to_face_mm = 0.0
standing = true
lines_per_sweep = 1
focus_depth_mm = 40.0
sampling_MHz = 60.0
depth_mm = 60.0
"""


class Patterns(unittest.TestCase):
    program = None

    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.folder = Path(scratch.name)

    def field(self, probe, scan, *more, recipe=None):
        for name, text in (("probe", probe), ("scan", scan), ("recipe", recipe or "")):
            (self.folder / f"{name}.toml").write_text(text)
        words = [self.program, "beam", "--probe", "./probe.toml", "--scan", "./scan.toml", "--json", "--depth-mm", "12",
                 *(["--recipe", "./recipe.toml"] if recipe else []), *map(str, more)]
        done = subprocess.run(words, cwd=self.folder, capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)["beams"]

    def row(self, angle_deg=0.0, *more, elements=64, pitch_mm=0.15, width_mm=None, height_mm=0.3, percent=60.0,
            recipe=None):
        probe = ROW.format(kind="phased", elements=elements, pitch_mm=pitch_mm, width_mm=width_mm or 0.999 * pitch_mm,
                           height_mm=height_mm, percent=percent)
        return self.field(probe, WAVE.format(angle_deg=angle_deg), "--pattern", "p.png", "-f", *more, recipe=recipe)

    def hold(self, what, found, expected, within):
        print(f"    {what}: {found:.4f}, published {expected:.4f}", flush=True)
        self.assertAlmostEqual(found, expected, delta=within, msg=what)

    def test_rectangular_side_lobe_and_width_one_way_and_both(self):
        """64 elements: -13.2543 dB and 1.206817 lambda / (N p), both ways twice the dB and 0.885986 (recomputed), beside
        the continuous aperture's -13.2615, 1.206709 and 0.885893."""
        beams = self.row(0.0, "--path", "transmit", "--path", "receive", "--path", "two-way")
        for beam, ways, constant in zip(beams, (1, 1, 2), (1.206817, 1.206817, 0.885986)):
            pattern = beam["pattern"]
            self.assertIsNone(pattern["distance_mm"])
            self.hold(f"{beam['path']} side lobe (dB)", pattern["peak_side_lobe_dB"], -13.2543 * ways, 0.03)
            self.hold("  as the program expects it (dB)", pattern["peak_side_lobe_theory_dB"], -13.2543 * ways, 0.03)
            # The pattern goes by sin(angle).
            sine = 2 * np.sin(np.radians(pattern["width_6dB_deg"] / 2)) * 64 * 0.15 / LAMBDA_MM
            self.hold("  width (lambda / D)", sine, constant, 0.003)

    def test_windows_of_recipes_set_the_receive_side_lobe(self):
        """At element centres, N = 64: Hann -31.47 dB and 2.0000, Hamming -42.57 and 1.8152 lambda / (N p)."""
        for window, level, width in (("hann", -31.47, 2.0), ("hamming", -42.57, 1.8152)):
            beam, = self.row(0.0, "--path", "receive", "--pattern-at-mm", 3000,
                             recipe=f'[receive]\nfocus = "dynamic"\nwindow = "{window}"\n')
            self.hold(f"{window} side lobe (dB)", beam["pattern"]["peak_side_lobe_dB"], level, 0.25)
            sine = 2 * np.sin(np.radians(beam["pattern"]["width_6dB_deg"] / 2)) * 64 * 0.15 / LAMBDA_MM
            self.hold(f"{window} width (lambda / D)", sine, width, 0.005)

    def test_disc_one_way_and_both(self):
        probe = 'kind = "annular"\nring_edges_mm = [0.0, 5.0]\ncenter_MHz = 5.0\nbandwidth_percent = 60.0\n'
        beams = self.field(probe, BEAM, "--unfocused", "--path", "transmit", "--path", "two-way", "--pattern", "p.png")
        for beam, level, root in zip(beams, (-17.570150, -35.1403), (0.5, np.sqrt(0.5))):
            self.hold(f"{beam['path']} side lobe (dB)", beam["pattern"]["peak_side_lobe_dB"], level, 0.02)
            half = brentq(lambda x: 2 * j1(x) / x - root, 0.5, 3.0) / np.pi * LAMBDA_MM / 10
            self.hold("half angle (deg)", beam["half_angle_deg"], np.degrees(np.arcsin(half)), 1e-3)
            self.hold("half angle by rule (deg)", beam["half_angle_theory_deg"], np.degrees(np.arcsin(half)), 1e-4)

    def test_grating_lobes_lie_where_they_should(self):
        """Pitch lambda and 2 lambda, steered by 20 degrees."""
        for ratio, angles in ((1.0, [-41.1460]), (2.0, [-41.1460, -9.0897, 57.3541])):
            beam, = self.row(20.0, elements=32, pitch_mm=ratio * LAMBDA_MM, width_mm=0.05)
            lobes = sorted(beam["pattern"]["grating_lobes"], key=lambda lobe: lobe["theory_deg"])
            self.assertEqual(len(lobes), len(angles))
            for lobe, angle in zip(lobes, angles):
                self.hold(f"pitch {ratio} lambda: predicted (deg)", lobe["theory_deg"], angle, 1e-3)
                self.hold("  found (deg)", lobe["measured_deg"], angle, 0.1)
                self.hold("  level (dB)", lobe["level_dB"], lobe["theory_far_field_dB"], 0.05)
        beam, = self.row(20.0, elements=32, pitch_mm=0.5 * LAMBDA_MM, width_mm=0.05)
        self.assertEqual(beam["pattern"]["grating_lobes"], [])

    def test_element_factor_at_the_grating_lobe(self):
        """Elements as wide as their pitch, a wavelength, steered by 20 degrees: -5.6832 dB one way (recomputed)."""
        beams = self.row(20.0, "--path", "transmit", "--path", "two-way", elements=32, pitch_mm=LAMBDA_MM,
                         width_mm=0.99999 * LAMBDA_MM)
        for beam, ways in zip(beams, (1, 2)):
            lobe, = [lobe for lobe in beam["pattern"]["grating_lobes"] if lobe["order"] == -1]
            self.hold(f"{beam['path']} (dB)", lobe["level_dB"], -5.6832 * ways, 0.1 * ways)

    def test_a_pulse_weakens_grating_lobes(self):
        """Point-like elements, a Gaussian pulse of bandwidth B one way: 0.93944 / (B N) of the main lobe. With the pulse's
        higher frequencies favoured by nothing, a direct sum over arrivals gives the same."""
        bandwidth = 0.6  # one way; both ways together 0.6 / sqrt(2)
        beam, = self.row(20.0, "--pulsed", elements=32, pitch_mm=LAMBDA_MM, width_mm=0.02,
                         percent=100 * bandwidth / np.sqrt(2))
        lobe, = [lobe for lobe in beam["pattern"]["grating_lobes"] if lobe["order"] == -1]
        sigma_s = 2.354820 / (2 * np.pi * bandwidth * 5e6)
        time_s = np.arange(-8e-6, 8e-6, 2e-9)
        arrivals_s = np.arange(-15.5, 16) / 5e6  # one period apart at the lobe
        sums = sum(np.exp(-0.5 * ((time_s - a) / sigma_s) ** 2 + 2j * np.pi * 5e6 * (time_s - a)) for a in arrivals_s)
        self.hold("direct sum (dB)", 20 * np.log10(np.abs(sums).max() / 32), 20 * np.log10(0.93944 / (0.6 * 32)), 0.05)
        self.hold("pulsed grating lobe (dB)", lobe["level_dB"], 20 * np.log10(np.abs(sums).max() / 32), 0.7)

    def test_side_lobes_of_a_grating_lobe_are_not_the_main_lobes(self):
        """Wide elements steered by 45 degrees: the grating lobe at -17.0312 stands 7.7 dB above the main lobe, and its own
        second side lobe above the main lobe's first, which a direct sum finds within two lambda / D. A pulse's grating
        lobe is spread over all sines from its lowest to its highest frequency's."""
        count = 32
        beam, = self.row(45.0, elements=count, pitch_mm=LAMBDA_MM, width_mm=0.99999 * LAMBDA_MM)
        off = np.concatenate((np.linspace(-1.9, -1.1, 801), np.linspace(1.1, 1.9, 801))) / count
        sine = np.sin(np.radians(45.0)) + off
        level = np.abs(np.exp(2j * np.pi * np.outer(off, np.arange(count))).sum(1)) / count * np.sinc(sine)
        expected = 20 * np.log10(level.max() / np.sinc(np.sin(np.radians(45.0))))
        self.hold("side lobe (dB)", beam["pattern"]["peak_side_lobe_dB"], expected, 0.15)
        beam, = self.row(20.0, "--pulsed", elements=count, pitch_mm=LAMBDA_MM, width_mm=0.02, percent=60.0 / np.sqrt(2))
        angle = beam["pattern"]["peak_side_lobe_position_deg"]
        self.assertTrue(angle is None or np.sin(np.radians(angle)) > np.sin(np.radians(20.0)) - 1.0 / 1.3, angle)

    def test_slice_at_the_lens_focus(self):
        """Height 5 mm, lens at 20 mm, 5 MHz: 1.495 and 1.097 mm (cylindrical cut by quadrature here; the rules, 1.2067 and
        0.8859 lambda F / H, give 1.487 and 1.091)."""
        y = np.linspace(-2.5e-3, 2.5e-3, 4001)
        k = 2 * np.pi * 5e6 / C

        def cut(at_m, off_m):
            path = np.hypot(at_m, y - off_m) - np.hypot(20e-3, y)
            return abs(np.sum(np.exp(-1j * k * path) / np.sqrt(np.hypot(at_m, y - off_m))))

        probe = ROW.format(kind="linear", elements=16, pitch_mm=0.3, width_mm=0.27, height_mm=5.0, percent=60.0)
        beams = self.field(probe + "elevation_focus_mm = 20.0\n", WAVE.format(angle_deg=0.0), "--plane", "elevation",
                           "--path", "transmit", "--path", "two-way")
        for beam, ways, rule, published in zip(beams, (1, 2), (1.48667, 1.09142), (1.495, 1.097)):
            level = 0.5 ** (1 / ways)
            half = brentq(lambda off: cut(20e-3, off) / cut(20e-3, 0.0) - level, 0.1e-3, 1.2e-3)
            self.hold("cut by quadrature (mm)", 2e3 * half, published, 0.005)
            self.hold(f"{beam['path']} slice at the lens focus (mm)", beam["width_6dB_mm"], published, 0.03 * published)
            self.hold("  by rule (mm)", beam["width_6dB_theory_mm"], rule, 0.01 * rule)

    def test_focus_width_both_ways(self):
        """F/4.2, 64 x 0.3 mm at 80 mm: 1.2116 and 0.8897 lambda F# with point elements (recomputed, exact distances)."""
        probe = ROW.format(kind="linear", elements=64, pitch_mm=0.3, width_mm=0.02, height_mm=0.3, percent=60.0)
        scan = ('kind = "focused"\nfocus_depth_mm = 80.0\ntransmit_elements = 64\nreceive_elements = 64\nlines = 1\n'
                "line_spacing_mm = 0.3\nsampling_MHz = 40.0\ndepth_mm = 100.0\n")
        beams = self.field(probe, scan, "--path", "transmit", "--path", "two-way")
        unit = LAMBDA_MM * 80.0 / 19.2
        for beam, exact, rule in zip(beams, (1.2116, 0.8897), (1.206817, 0.885986)):
            self.hold(f"{beam['path']} width (lambda F#)", beam["width_6dB_mm"] / unit, exact, 0.004)
            self.hold("  by rule", beam["width_6dB_theory_mm"] / unit, rule, 0.002)


if __name__ == "__main__":
    Patterns.program = sys.argv.pop(1)
    tests = [name if name.startswith("Patterns") else f"Patterns.{name}" for name in sys.argv[1:]]
    unittest.main(argv=[sys.argv[0], *tests], verbosity=2)
