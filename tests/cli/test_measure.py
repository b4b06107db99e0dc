"""What `measure` gives beyond widths, held to NumPy and SciPy on the same image file."""

import csv
import json
import re
import subprocess
import unittest
from pathlib import Path

import h5py
import numpy as np
from scipy.integrate import quad
from scipy.interpolate import CubicSpline
from scipy.signal import argrelmax

from bench import Bench

SPECKLE = """\
seed = 5

[medium]
sound_speed_m_s = 1540.0

[[point]]
position_mm = [-4.0, 0.0, 10.0]
strength_dB = 0.0

[[speckle]]
name = "block"
shape = "box"
center_mm = [2.0, 0.0, 11.0]
size_mm = [9.0, 2.0, 10.0]
density_per_mm3 = 30.0
strength_dB = -40.0

[[speckle.inclusion]]
name = "dark"
shape = "cylinder"
center_mm = [2.0, 0.0, 11.0]
diameter_mm = 4.0
contrast_dB = -10.0
"""

LINES = """\
kind = "focused"
focus_depth_mm = 11.0
transmit_elements = 16
receive_elements = 16
lines = 121
line_spacing_mm = 0.1
sampling_MHz = 40.0
depth_mm = 24.0
sound_speed_m_s = 1540.0
"""


def rayleigh_overlap(contrast_dB):
    """gCNR of two Rayleigh envelopes from its definition, by quadrature."""
    power = 10 ** (contrast_dB / 10)
    low = lambda a: 2 * a / power * np.exp(-a * a / power)
    high = lambda a: 2 * a * np.exp(-a * a)
    crossing = np.sqrt(-power * np.log(power) / (1 - power))
    return 1 - quad(high, 0, crossing)[0] - quad(low, crossing, 40)[0]


class Measure(Bench):
    def image(self, *settings, phantom=SPECKLE, name="image.h5", depth_mm=24):
        self.write("speckle.toml", phantom)
        self.write("lines121.toml", LINES.replace("depth_mm = 24.0", f"depth_mm = {depth_mm}.0"))
        probe = (self.folder / "probe.toml").read_text()
        self.write("probe.toml", probe.replace("elements = 24", "elements = 48"))
        self.done("simulate", "./speckle.toml", "--probe", "./probe.toml", "--scan", "./lines121.toml", "-o", "echoes.h5", "-q",
                  "-f", *settings)
        self.reconstruct("-o", name, "-f", "--set", "recipe.receive.window=rectangular", recording="echoes.h5")
        return name

    def read(self, name):
        with h5py.File(self.folder / name) as file:
            envelope = file["envelope"][...].astype(float)
            origins = file["grid/origin_m"][...]
            depths = file["grid/depth_m"][...]
        return origins[:, 0], depths, envelope

    def sections(self, *words):
        return json.loads(self.done("measure", *words, "--json"))["images"][0]

    def test_regions_against_numpy(self):
        name = self.image()
        x, z, envelope = self.read(name)
        dark = self.sections(name)["regions"]["rows"][0]
        self.assertEqual(dark["label"], "dark")
        distance = np.hypot(x[:, None] - 2e-3, z[None, :] - 11e-3)
        # The core and a ring around it; the program leaves out a rim and takes out a slope besides.
        inside, outside = envelope[distance < 1.7e-3], envelope[(distance > 2.3e-3) & (distance < 3.2e-3)]
        contrast = 10 * np.log10(np.mean(inside**2) / np.mean(outside**2))
        self.assertAlmostEqual(dark["contrast_dB"], contrast, delta=1.0)
        cnr = abs(inside.mean() - outside.mean()) / np.sqrt(inside.var() + outside.var())
        self.assertAlmostEqual(dark["cnr"], cnr, delta=0.12)
        low, high = dark["contrast_dB_95_percent"]
        self.assertTrue(low - 2.0 < -10.0 < high + 2.0, dark)
        self.assertAlmostEqual(dark["gcnr_theory"], rayleigh_overlap(dark["contrast_dB"]), delta=1e-6)
        self.assertAlmostEqual(dark["gcnr"], dark["gcnr_theory"], delta=0.2)

    def test_side_lobe_against_scipy(self):
        # A narrow band, so that lobes are parted; nothing but the point.
        alone = SPECKLE.split("[[speckle]]")[0]
        name = self.image("--set", "probe.bandwidth_percent=20", phantom=alone)
        x, z, envelope = self.read(name)
        lobes = self.sections(name)["side_lobes"]["rows"][0]
        near = np.abs(x + 4e-3) < 2.4e-3
        patch = envelope[near][:, np.abs(z - 10e-3) < 0.6e-3]
        row = patch[:, np.unravel_index(patch.argmax(), patch.shape)[1]]
        fine = np.linspace(x[near][0], x[near][-1], 4001)
        power = CubicSpline(x[near], row**2)(fine)
        self.assertIsNotNone(lobes["peak_side_lobe_dB"], lobes)
        at = fine[power.argmax()] + lobes["peak_side_lobe_position_mm"] * 1e-3
        here = np.interp(at, fine, power) / power.max()
        self.assertAlmostEqual(10 * np.log10(here), lobes["peak_side_lobe_dB"], delta=0.5)
        # It is a local maximum, and the prediction stands beside it.
        tops = fine[argrelmax(power)[0]]
        self.assertLess(np.abs(tops - at).min(), 0.06e-3)
        self.assertAlmostEqual(lobes["peak_side_lobe_dB"], lobes["peak_side_lobe_dB_predicted"], delta=2.0)

    def test_penetration_with_noise(self):
        slab = SPECKLE.split("[[point]]")[0].replace("1540.0", "1540.0\nattenuation_dB_cm_MHz = 1.5") + """
[[speckle]]
name = "slab"
shape = "box"
center_mm = [0.0, 0.0, 11.0]
size_mm = [8.0, 2.0, 17.0]
density_per_mm3 = 30.0
strength_dB = -40.0
"""
        quiet = self.sections(self.image(phantom=slab, depth_mm=34))
        noisy = self.sections(self.image("--set", "scan.noise_snr_dB=0", phantom=slab, depth_mm=34))
        louder = self.sections(self.image("--set", "scan.noise_snr_dB=-10", phantom=slab, depth_mm=34))
        depth = lambda found: found["penetration"]["rows"][0]["depth_mm"]
        if "penetration" in quiet:
            self.assertIsNone(depth(quiet))
        self.assertIsNotNone(depth(louder), louder["penetration"])
        self.assertTrue(3.0 < depth(louder) < 19.0)
        if depth(noisy) is not None:
            self.assertGreater(depth(noisy), depth(louder))

    def test_without_truth(self):
        name = self.image()
        with h5py.File(self.folder / name, "r+") as file:
            for path in [p for p in ("truth", "recording/truth") if p in file]:
                del file[path]
        table = self.done("measure", name)
        self.assertIn("points: bright ones detected in the image; its recording contains none", table)
        point = self.sections(name)["points"][0]
        self.assertAlmostEqual(point["true_x_mm"], -4.0, delta=0.1)
        self.assertAlmostEqual(point["true_depth_mm"], 10.0, delta=0.1)
        self.assertIsNone(point["lateral_error_mm"])
        given = self.sections(name, "--point", "-4,10.1", "--disc", "2,11,4", "--speckle", "-2.5,6.5,6,16")
        self.assertAlmostEqual(given["points"][0]["axial_error_mm"], -0.1, delta=0.05)
        self.assertTrue(-13.0 < given["regions"]["rows"][0]["contrast_dB"] < -7.0)
        self.assertIn("speckle", given)
        boxed = self.sections(name, "--box", "-6,-2,8,12")
        self.assertEqual(len(boxed["points"]), 1)

    def test_refusals_say_what_to_write(self):
        name = self.image()
        self.refused(2, r"--point: 'here' is not X,DEPTH, .*; for example --point 0,30", "measure", name, "--point", "here")
        self.refused(2, r"--point: '1,nan' is not X,DEPTH, .*", "measure", name, "--point", "1,nan")
        self.refused(2, r"--box: '5,1,2,3' is empty; .*", "measure", name, "--box", "5,1,2,3")
        for wrong, meant in (("3;40", "3,40"), ("3,5;40,2", "3.5,40.2"), ("3,5,40,2", "3.5,40.2"), ("3, 40", "3,40"),
                             ("-3 40", "-3,40"), ("3mm,4cm", "3,40"), ("0,4cm", "0,40"), ("0.003m,0.04m", "3,40")):
            with self.subTest(wrong):
                self.refused(2, rf"--point: '{wrong}' is not X,DEPTH, numbers in mm with commas between them, no spaces and a "
                             rf"decimal point; write --point {meant}", "measure", name, f"--point={wrong}")
        self.refused(2, r"--box: '-1;1;2;3' is not X1,X2,DEPTH1,DEPTH2, .*; write --box -1,1,2,3", "measure", name,
                     "--box=-1;1;2;3")
        self.refused(2, r"--disc: '4,30,5mm' is not X,DEPTH,DIAMETER, .*; write --disc 4,30,5", "measure", name, "--disc",
                     "4,30,5mm")
        self.refused(2, r"--speckle: '1,2,3' is not X1,X2,DEPTH1,DEPTH2, .*; for example --speckle -10,10,20,60", "measure",
                     name, "--speckle", "1,2,3")
        self.refused(2, r"--disc: '0,10,0' has no diameter; .*", "measure", name, "--disc", "0,10,0")
        self.refused(2, r".*depth 90 mm lies outside the image; it reaches from.*", "measure", name, "--point", "0,90")
        self.refused(2, r"--box: finds points by itself; .*", "measure", name, "--box", "0,1,2,3", "--point", "0,10")
        self.refused(2, r".*no bright point stands out in the box; give a position.*", "measure", name, "--box", "5,6,20,22")
        self.refused(2, r"--correlation: goes with .*", "measure", name, "--correlation", "--point", "0,10")

    def test_files_beside(self):
        name = self.image()
        self.reconstruct("-o", "narrow.h5", "--set", "recipe.receive.f_number=4", recording="echoes.h5")
        self.done("measure", name, "narrow.h5", "--csv", "table.csv", "--plot", "curves")
        with open(self.folder / "table_quantities.csv", encoding="utf-8") as file:
            rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
        self.assertTrue({"side_lobes", "regions", "speckle"} <= {row["section"] for row in rows})
        contrasts = [row for row in rows if row["quantity"] == "contrast_dB"]
        self.assertEqual([row["reference"] for row in contrasts], ["true", "true"])
        self.assertAlmostEqual(float(contrasts[0]["difference"]), float(contrasts[0]["value"]) + 10.0, places=4)
        self.assertIn("curves/profiles_shallow.svg", self.files())
        self.assertIn("predicted = 1", (self.folder / "curves/profiles_shallow.gp").read_text())
        (self.folder / "table.csv").unlink()
        self.refused(2, r"table_quantities\.csv: already there; .* with --csv", "measure", name, "--csv", "table.csv")

    def test_names_of_side_lobes_stay_inside_the_page(self):
        script = Path(__file__).parents[2] / "tools/plots/side_lobes.gp"
        (self.folder / "side_lobes.csv").write_text("image,a,b,c,d,e,f\nx,-20,-20,-13,1,1,1\ny,,,-13,1,1,1\n" * 3)
        names = " ".join(f'"A growing aperture, F/2 (f_number = {n})"' for n in range(6))
        subprocess.run(["gnuplot", "-e", f"curves = 6; names = '{names}'", script], cwd=self.folder, check=True)
        svg = (self.folder / "side_lobes.svg").read_text()
        self.assertIn(">none<", svg)
        words = re.findall(r"<text>([^<]+)</text>", svg)
        for n in range(6):
            end = words.index(f"(f_number = {n})")
            self.assertEqual(words[end - 2:end], ["A growing", "aperture, F/2"])


if __name__ == "__main__":
    unittest.main()
