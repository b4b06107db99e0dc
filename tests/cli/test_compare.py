"""`echoloom compare`: verdicts, exit codes and what is written, held to NumPy and SciPy on the same files."""

import json
import re
import shutil
import unittest
import xml.etree.ElementTree as ElementTree

import h5py
import numpy as np
from scipy.ndimage import gaussian_filter

from bench import Bench, escaped


def similarity(before, after, range_dB):
    """Mean structural similarity (Wang et al. 2004) of the grey pictures, by SciPy's own Gaussian filter."""
    grey = lambda envelope: np.clip(20 * np.log10(np.maximum(envelope, 1e-300) / before.max()) / range_dB + 1, 0, 1)
    smooth = lambda field: gaussian_filter(field, 1.5, mode="reflect", truncate=5 / 1.5)
    a, b = grey(before), grey(after)
    mean_a, mean_b = smooth(a), smooth(b)
    variance_a, variance_b = smooth(a * a) - mean_a**2, smooth(b * b) - mean_b**2
    covariance = smooth(a * b) - mean_a * mean_b
    c1, c2 = 0.01**2, 0.03**2
    ratio = (2 * mean_a * mean_b + c1) * (2 * covariance + c2)
    return (ratio / ((mean_a**2 + mean_b**2 + c1) * (variance_a + variance_b + c2))).mean()


class Compare(Bench):
    def compared(self, code, *words, **options):
        """Runs the command, which must end with this code and without an error; returns its standard output."""
        result = self.run_command("compare", "-q", *words, **options)
        self.assertEqual(result.returncode, code, result.stdout + result.stderr)
        self.assertEqual(result.stderr, "")
        return result.stdout

    def change_samples(self, name, source, path, change):
        shutil.copy(self.folder / source, self.folder / name)
        with h5py.File(self.folder / name, "r+") as file:
            file[path][...] = change(file[path][...])

    def numbers(self, *words, code):
        report = json.loads(self.compared(code, *words, "--json"))
        self.assertEqual((report["format"], report["format_version"]), ("echoloom comparison", 1))
        pair = report["pairs"][0]
        return pair, {(n["name"], n["where"]): n for n in pair["numbers"]}


class Images(Compare):
    def setUp(self):
        super().setUp()
        self.simulate()
        self.reconstruct("-o", "a.h5")

    def test_threads_change_nothing(self):
        self.reconstruct("-o", "b.h5", "--threads", "1")
        self.assertRegex(self.compared(0, "a.h5", "b.h5"), r"^IDENTICAL: every sample is the same, bit by bit\.\n")

    def test_a_wider_f_number_is_worse_and_drawn(self):
        self.reconstruct("-o", "b.h5", "--set", "recipe.receive.f_number=2.4")
        text = self.compared(1, "a.h5", "b.h5", "--picture", "d.png")
        self.assertRegex(text, r"^(WORSE|DIFFERENT): of \d+ numbers judged, \d+ worse")
        self.assertRegex(text, r"points\.lateral_6dB_mm +[12] of 2 .* WORSE")
        self.assertEqual((self.folder / "d.png").read_bytes()[:8], b"\x89PNG\r\n\x1a\n")
        self.assertRegex(self.compared(1, "b.h5", "a.h5"), r"points\.lateral_6dB_mm +[12] of 2 .* BETTER")

    def test_numbers_as_numpy_finds_them(self):
        noise = np.random.default_rng(4)
        self.change_samples("b.h5", "a.h5", "envelope", lambda e: np.abs(
            e + 1e-3 * e.max() * noise.standard_normal(e.shape)).astype("f4"))
        pair, numbers = self.numbers("a.h5", "b.h5", code=1)
        with h5py.File(self.folder / "a.h5") as a, h5py.File(self.folder / "b.h5") as b:
            before, after = a["envelope"][...].astype(float), b["envelope"][...].astype(float)
            depth, origin = a["grid/depth_m"][...], a["grid/origin_m"][...]
            range_dB = a["recipe/dynamic_range_dB"][0]
        change = after - before
        samples = pair["samples"][0]
        self.assertAlmostEqual(samples["relative_l2"] / (np.linalg.norm(change) / np.linalg.norm(before)), 1, 9)
        row, sample = np.unravel_index(np.abs(change).argmax(), change.shape)
        self.assertEqual((samples["largest_row_index"], samples["largest_sample_index"]), (row, sample))
        self.assertAlmostEqual(samples["largest_dB"], 20 * np.log10(np.abs(change).max() / before.max()), 6)
        self.assertAlmostEqual(samples["correlation"], (before * after).sum() / np.linalg.norm(before)
                               / np.linalg.norm(after), 9)
        self.assertEqual(samples["largest_at"], f"x {1e3 * origin[row, 0]:.2f}, depth {1e3 * depth[sample]:.2f} mm")
        found = numbers["image.similarity", "whole image"]["after"]
        self.assertAlmostEqual(found, similarity(before, after, range_dB), 6)
        self.assertLess(found, 0.99)

    def test_widths_are_those_of_measure(self):
        self.reconstruct("-o", "b.h5", "--set", "recipe.receive.f_number=2.4")
        _, numbers = self.numbers("a.h5", "b.h5", code=1)
        for name, side in (("a.h5", "before"), ("b.h5", "after")):
            point = json.loads(self.done("measure", name, "--json"))["images"][0]["points"][0]
            self.assertEqual(numbers["points.lateral_6dB_mm", "x 0.00, depth 8.00 mm"][side],
                             point["lateral_6dB_mm"])

    def test_small_changes_pass_unless_tolerances_say_otherwise(self):
        self.change_samples("b.h5", "a.h5", "envelope", lambda e: e * np.float32(1.0004))
        self.assertRegex(self.compared(0, "a.h5", "b.h5"), r"^SAME WITHIN TOLERANCE: \d+ numbers judged")
        self.write("mine.toml", '[[metric]]\nname = "image.difference_percent"\nmax = 0.03\n')
        text = self.compared(1, "a.h5", "b.h5", "--tolerances", "mine.toml")
        self.assertRegex(text, r"image\.difference_percent .* 0\.(04|0399\d+) .* at most 0\.03  DIFFERENT")
        self.assertIn("+0.0035 dB in level", text)  # 20 log10(1.0004)
        self.change("mine.toml", "difference_percent", "diference_percent")
        self.refused(2, r"mine\.toml:2: metric\.0\.name: unknown metric 'image\.diference_percent'; did you mean "
                        r"'image\.difference_percent'\?", "compare", "a.h5", "b.h5", "--tolerances", "mine.toml")

    def test_other_grids_are_inconclusive(self):
        self.change_samples("b.h5", "a.h5", "grid/depth_m", lambda depth: depth + 5e-7)
        self.assertRegex(self.compared(2, "a.h5", "b.h5"),
                         r"^INCONCLUSIVE: samples lie up to 0\.0005 mm from their former positions\.\n")
        self.reconstruct("-o", "c.h5", "--set", "recipe.grid.depth_step_mm=0.0192")
        self.assertRegex(self.compared(1, "a.h5", "c.h5"),
                         r"^(WORSE|BETTER|DIFFERENT).* Samples could not be compared: the image before has 13 columns")

    def test_images_without_targets(self):
        for name in ("a.h5", "b.h5"):
            if name == "b.h5":
                self.reconstruct("-o", name, "--set", "recipe.receive.f_number=2.4")
            with h5py.File(self.folder / name, "r+") as file:
                del file["recording/truth"]
        text = self.compared(1, "a.h5", "b.h5")
        self.assertIn("bright ones detected in the image", text)
        self.assertIn("points.lateral_6dB_mm", text)
        self.assertNotIn("points.error", text)

    def test_junit_is_xml_with_a_case_for_each_number(self):
        self.reconstruct("-o", "b.h5", "--set", "recipe.receive.f_number=2.4")
        pair, _ = self.numbers("a.h5", "b.h5", "--junit", "r.xml", code=1)
        root = ElementTree.parse(self.folder / "r.xml").getroot()
        self.assertEqual(root.tag, "testsuites")
        suite = root.find("testsuite")
        cases = suite.findall("testcase")
        self.assertEqual(len(cases), len(pair["numbers"]))
        self.assertEqual(int(suite.get("tests")), len(cases))
        failed = [case.get("name") for case in cases if case.find("failure") is not None]
        self.assertEqual(int(suite.get("failures")), len(failed))
        self.assertIn("points.lateral_6dB_mm at x 0.00, depth 8.00 mm", failed)
        self.assertTrue(suite.find("system-out").text.startswith(pair["summary"]))


class Recordings(Compare):
    def setUp(self):
        super().setUp()
        self.simulate("a.h5")

    def test_the_same_bits(self):
        self.simulate("b.h5", "./lines.toml", "--threads", "1")
        self.assertRegex(self.compared(0, "a.h5", "b.h5"), "^IDENTICAL")

    def test_a_delay_is_given_in_periods(self):
        rate, center = 40e6, 5e6
        def later(rf):
            f = np.fft.rfftfreq(2 * rf.shape[2], 1 / rate)
            turned = np.fft.rfft(rf, 2 * rf.shape[2]) * np.exp(-2j * np.pi * f * 0.01 / center)
            return np.fft.irfft(turned)[:, :, :rf.shape[2]].astype("f4")
        self.change_samples("b.h5", "a.h5", "receive/rf", later)
        text = self.compared(1, "a.h5", "b.h5", "--picture", "d.png")
        self.assertRegex(text, r"^DIFFERENT")
        found = float(re.search(r"later, ([0-9.]+) of a period", text).group(1))
        self.assertAlmostEqual(found, 0.01, delta=0.0012)  # slopes by central differences
        self.assertTrue((self.folder / "d.png").exists())

    def test_another_element_place_is_different_though_samples_are_not(self):
        shutil.copy(self.folder / "a.h5", self.folder / "b.h5")
        with h5py.File(self.folder / "b.h5", "r+") as file:
            file["probe/element_center_m"][3, 0] += 1e-6
        self.assertRegex(self.compared(1, "a.h5", "b.h5"), r"element positions \(mm\), largest change")

    def test_other_sizes_and_kinds(self):
        self.simulate("b.h5", "./lines.toml", "--set", "scan.lines=12")
        self.assertRegex(self.compared(2, "a.h5", "b.h5"),
                         r"^INCONCLUSIVE: before, 13 events of 16 channels by \d+ samples; after, 12 events")
        self.reconstruct("-o", "image.h5", recording="a.h5")
        self.refused(2, r"image\.h5: is of another kind.*; give two images or two recordings", "compare", "a.h5",
                     "image.h5")


class Folders(Compare):
    def setUp(self):
        super().setUp()
        self.simulate("before/recording.h5")
        shutil.copytree(self.folder / "before", self.folder / "after")
        self.reconstruct("-o", "before/image.h5", recording="before/recording.h5")
        self.reconstruct("-o", "after/image.h5", recording="after/recording.h5")

    def test_pairs_by_name(self):
        text = self.compared(0, "before", "after")
        self.assertRegex(text, r"All 2 pairs: IDENTICAL \(2 IDENTICAL\)\.\n$")
        self.reconstruct("-o", "after/image.h5", "-f", "--set", "recipe.receive.f_number=2.4",
                         recording="after/recording.h5")
        self.compared(1, "before", "after", "--picture", "drawn", "--junit", "r.xml")
        self.assertEqual({f for f in self.files() if f.startswith("drawn")}, {"drawn/image.png"})
        suites = ElementTree.parse(self.folder / "r.xml").getroot().findall("testsuite")
        self.assertEqual([s.get("name") for s in suites], ["after/image.h5", "after/recording.h5"])

    def test_what_is_missing_or_broken_is_inconclusive(self):
        (self.folder / "after/image.h5").unlink()
        self.assertRegex(self.compared(2, "before", "after"), r"INCONCLUSIVE: after/image\.h5 is not there\.")
        self.write("after/image.h5", "no such thing")
        self.compared(2, "before", "after", "--junit", "r.xml")
        errors = ElementTree.parse(self.folder / "r.xml").getroot().findall("testsuite/testcase/error")
        self.assertEqual(len(errors), 1)

    def test_refusals(self):
        self.refused(2, r"nothing: no such file or folder; give .*", "compare", "before", "nothing")
        self.refused(2, r"before/image\.h5: one of the two is a folder.*", "compare", "after", "before/image.h5")
        (self.folder / "e").mkdir()
        (self.folder / "f").mkdir()
        self.refused(2, r"e: contains no \.h5 file; .*", "compare", "e", "f")
        self.write("r.xml", "mine")
        self.refused(2, r"r\.xml: already there; replace it with --force or give another name with --junit",
                     "compare", "before", "after", "--junit", "r.xml")
        self.refused(2, escaped("echoloom compare: AFTER is required; see echoloom compare --help"), "compare",
                     "before")


if __name__ == "__main__":
    unittest.main()
