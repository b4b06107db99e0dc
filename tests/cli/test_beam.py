"""What `echoloom beam` shows, and what it refuses."""

import csv
import json
import unittest

from bench import Bench, escaped

DISC = """\
kind = "annular"
ring_edges_mm = [0.0, 4.0]
center_MHz = 5.0
bandwidth_percent = 60.0
"""

BEAM = """\
kind = "swept"
heads = 1
rotation_rate_rpm = 60.0
window_half_angle_deg = 10.0
axis_to_face_mm = 0.0
standing = true
lines_per_sweep = 1
focus_depth_mm = 20.0
sampling_MHz = 40.0
depth_mm = 30.0
"""


class Beam(Bench):
    def setUp(self):
        super().setUp()
        self.write("disc.toml", DISC)
        self.write("wide.toml", DISC.replace("4.0", "6.0"))
        self.write("beam.toml", BEAM)

    def beam(self, *more):
        return self.done("beam", "--probe", "./disc.toml", "--scan", "./beam.toml", *more)

    def refuse(self, pattern, *more, code=2):
        return self.refused(code, pattern, "beam", "--probe", "./disc.toml", "--scan", "./beam.toml", *more)

    def test_table_names_theory_and_caution(self):
        # a^2 / lambda = 51.948 mm, and lambda / 4 less, 51.871 mm: L. E. Kinsler et al., Fundamentals of Acoustics, 4th ed.
        # 2000, sec. 7.4 (from memory); recomputed by tests/published/recompute_pistons.py.
        words = self.beam("--unfocused")
        self.assertRegex(words, r"near zone, theory \(mm\) +51\.95")
        self.assertRegex(words, r"last maximum on the axis, measured \(mm\) +51\.87")
        self.assertIn("D^2 / (4 lambda)", words)
        self.assertIn("teaching and research only", words)

    def test_json_and_csv_say_the_same(self):
        beams = json.loads(self.beam("--json", "--csv", "beam.csv"))["beams"]
        lines = (self.folder / "beam.csv").read_text().splitlines()
        self.assertRegex(lines[0], "^# .*teaching and research only")
        rows = [row for row in csv.DictReader(lines[1:]) if row["width_6dB_mm"]]
        self.assertEqual(len(rows), len([d for d in beams[0]["depths"] if d["width_6dB_mm"] is not None]))
        for row, depth in zip(rows, beams[0]["depths"]):
            self.assertAlmostEqual(float(row["width_6dB_mm"]), depth["width_6dB_mm"], places=4)
            self.assertAlmostEqual(float(row["axis_pressure_rho_c_v"]), depth["axis_pressure_rho_c_v"], places=5)

    def test_pictures_and_what_lies_beside_them(self):
        self.done("beam", "--probe", "./disc.toml", "--probe", "./wide.toml", "--scan", "./beam.toml", "--map",
                  "maps.png", "--plot", "curves.png")
        self.assertLessEqual({"maps.png", "curves.png", "curves.csv", "curves.gp", "curves.svg"}, self.files())
        self.assertEqual((self.folder / "maps.png").read_bytes()[:8], b"\x89PNG\r\n\x1a\n")

    def test_any_number_of_threads_gives_the_same_bytes(self):
        for threads in (1, 3):
            self.done("beam", "--probe", "./probe.toml", "--scan", "./lines.toml", "--depth-mm", "8", "--threads",
                      threads, "--map", f"map{threads}.png", "--csv", f"{threads}.csv")
        for name in ("map{}.png", "{}.csv"):
            first, second = ((self.folder / name.format(threads)).read_bytes() for threads in (1, 3))
            self.assertEqual(first, second)

    def test_every_kind_of_event(self):
        for scan in ("lines", "planes"):
            self.assertIn("near zone", self.done("beam", "--probe", "./probe.toml", "--scan", f"./{scan}.toml",
                                                 "--event", "1", "--depth-mm", "12"))

    def test_attenuation_of_a_phantom(self):
        def deepest(*more):
            return json.loads(self.beam("--json", *more))["beams"][0]["depths"][-1]["axis_pressure_rho_c_v"]
        # 0.3 dB/cm/MHz over 3 cm at 5 MHz
        self.assertAlmostEqual(deepest("--phantom", "./phantom.toml") / deepest(), 10 ** (-4.5 / 20), delta=0.01)

    def row(self, *more):
        return self.done("beam", "--probe", "./probe.toml", "--scan", "./lines.toml", "--depth-mm", "6", *more)

    def test_paths_side_by_side(self):
        beams = json.loads(self.row("--path", "transmit", "--path", "receive", "--path", "two-way", "--json"))["beams"]
        self.assertEqual([beam["path"] for beam in beams], ["transmit", "receive", "two-way"])
        self.assertIsNone(beams[0]["receive"])
        self.assertEqual(beams[1]["receive"], "16 elements with equal weights, focused at 10 mm")
        for transmit, receive, both in zip(*(beam["depths"] for beam in beams)):  # by reciprocity a field like another
            self.assertAlmostEqual(both["axis_pressure_rho_c_v_squared"],
                                   transmit["axis_pressure_rho_c_v"] * receive["axis_pressure_rho_c_v"], places=9)

    def test_a_recipe_shapes_the_receive_beam(self):
        fixed, dynamic = json.loads(self.row("--path", "receive", "--recipe", "./fixed.toml", "--recipe", "./recipe.toml",
                                             "--json"))["beams"]
        self.assertEqual((fixed["receive"], dynamic["receive"]), ("recipe fixed", "recipe recipe"))
        self.assertEqual((fixed["focus_mm"], dynamic["focus_mm"]), (10.0, None))
        narrow, wide = (beam["depths"][-1]["width_6dB_mm"] for beam in (dynamic, fixed))
        self.assertLess(narrow, 0.8 * wide)  # 6 mm deep, held at 10 mm

    def test_pressure_has_the_unit_of_its_path(self):
        """Two-way is transmit times receive, and so is its unit."""
        one_way, two_way = (self.row("--path", path, "--csv", f"table_{path}.csv", "--plot", f"{path}.png")
                            for path in ("transmit", "two-way"))
        self.assertRegex(one_way, r"there, one way, in rho c v +\d")
        self.assertIn("pressure in rho c v, v being", one_way)
        self.assertRegex(two_way, r"there, two-way, in \(rho c v\)\^2 +\d")
        self.assertIn("pressure in (rho c v)^2, v being", two_way)
        both = self.row("--path", "transmit", "--path", "two-way")
        self.assertIn("pressure in rho c v; two-way (rho c v)^2, v being", both)
        for path, filled, empty in (("transmit", "", "_squared"), ("two-way", "_squared", "")):
            text = (self.folder / f"table_{path}.csv").read_text()
            for row in csv.DictReader(text.splitlines()[1:]):
                self.assertEqual((row["path"], row["axis_pressure_rho_c_v" + empty]), (path, ""))
                self.assertGreater(float(row["axis_pressure_rho_c_v" + filled]), 0.0)
        self.assertIn("pressure_unit = '(ρ c v)²'", (self.folder / "two-way.gp").read_text())
        self.assertIn("pressure_unit = 'ρ c v'", (self.folder / "transmit.gp").read_text())
        self.assertIn("in (ρ c v)²", (self.folder / "two-way.svg").read_text())

    def test_events_are_counted_from_1(self):
        first = self.row("--event", "1", "--json")
        self.assertEqual(json.loads(first)["beams"][0]["event_index"], 0)
        self.assertIn("event 13 of 13", self.row("--event", "13"))

    def test_json_names_what_was_written(self):
        report = json.loads(self.row("--json", "--csv", "b.csv", "--map", "m.png", "-q"))
        self.assertEqual(report["written"], ["b.csv", "m.png"])

    def test_settings_of_a_recipe(self):
        wide, narrow = (json.loads(self.row("--path", "receive", "--recipe", "./fixed.toml", "--json", "--set",
                                            f"recipe.receive.max_elements={count}"))["beams"][0]["depths"][-1]
                        for count in (4, 16))
        self.assertNotEqual(wide["width_6dB_mm"], narrow["width_6dB_mm"])
        self.refuse(r"--set: recipe\.keep_rf: there is no recipe here; give one with --recipe", "--set", "recipe.keep_rf=true")

    def test_planes_and_pulses(self):
        for plane in ("elevation", "depth"):
            self.row("--plane", plane, "--map", f"{plane}.png", "--set", "scan.transmit_elements=4")
            self.assertIn(f"{plane}.png", self.files())
        words = self.row("--pulsed", "--plane", "depth", "--at-mm", "5", "--map", "pulsed.png", "--set",
                         "scan.transmit_elements=2")
        self.assertRegex(words, "^Transmit beams, peaks of the pulse")

    def test_pattern_tells_lobes_and_where_theory_has_them(self):
        words = self.row("--pattern", "pattern.png")
        self.assertLessEqual({"pattern.png", "pattern.csv", "pattern.gp", "pattern.svg"}, self.files())
        self.assertRegex(words, r"peak side lobe, measured \(dB\) +-1[0-9]\.")
        self.assertRegex(words, r"Grating lobes: sin\(angle\) = sin\(steering\) \+ order x lambda / pitch")
        self.assertIn("beyond 90", words)  # the pitch is a little under a wavelength

    def test_near_zone_names_the_aperture_of_its_formula(self):
        words = self.done("beam", "--probe", "./probe.toml", "--scan", "./planes.toml", "--depth-mm", "6")
        self.assertRegex(words.replace("\n  ", " "), r"not D\^2 / \(4 lambda\), which belongs to a disc")
        self.assertRegex(self.beam("--unfocused"), r"measured / theory +0\.9985")  # lambda / 4 less

    def test_what_does_not_go_together(self):
        self.refuse(r"--recipe: shapes the receive beam; add --path receive or --path two-way", "--recipe", "./recipe.toml")
        self.refuse(r"--at-mm: is for a plane of one depth; add --plane depth", "--at-mm", "5")
        self.refuse(r"--frequency-mhz: is for a continuous wave, .* write --set probe\.center_MHz=4", "--pulsed", "--frequency-mhz", "4")
        self.refuse(r"--pattern-at-mm: is the distance of the pattern; add --pattern FILE\.png", "--pattern-at-mm", "9")
        self.refuse(r"echoloom beam: --path: both not in .*", "--path", "both")
        self.refuse(r"--path: 8 beams, each path and recipe counted; give at most 6", *["--path", "receive"] * 8)

    def test_event_out_of_range(self):
        self.refuse(r'--event: is 7; the scan "beam" has 1 event, counted from 1', "--event", "7")
        self.refuse(r"--event: is -1; .*", "--event=-1")
        self.refuse(r"--event: is 0; .*", "--event", "0")

    def test_numbers_out_of_range(self):
        self.refuse(r"--frequency-mhz: is 0; give a number more than 0, at most 100", "--frequency-mhz", "0")
        self.refuse(r"--depth-mm: is -3; give a number more than 0, at most 5000", "--depth-mm=-3")
        self.refuse(r"--width-mm: is nan; give .*", "--width-mm", "nan")
        self.refuse(r"--threads: is 0; .*", "--threads", "0")

    def test_counts_that_do_not_pair(self):
        self.refuse(r"--scan: 3 scans for 2 probes; give one for all of them, or one for each", "--probe",
                    "./wide.toml", "--scan", "./beam.toml", "--scan", "./beam.toml")
        self.refuse(r"--probe: 7 beams; give at most 6", *["--probe", "./disc.toml"] * 6)

    def test_missing_and_unknown(self):
        self.refused(2, r"echoloom beam: .*--scan is required.*", "beam", "--probe", "./disc.toml")
        self.refuse(r"echoloom beam: '--unfocussed' is not known here; did you mean '--unfocused'\?.*", "--unfocussed")
        self.refuse(r"--set: phantom\.seed: there is no phantom here; give one with --phantom", "--set",
                    "phantom.seed=2")
        self.refuse(r"--set: depth_mm: does not begin with the name of its file; write phantom\.depth_mm=2, .* or recipe\.depth_mm=2", "--set", "depth_mm=2")

    def test_scan_for_another_array(self):
        self.refused(2, r"\./lines\.toml:1: kind: .*annular.*", "beam", "--probe", "./disc.toml", "--scan",
                     "./lines.toml")

    def test_plot_must_be_a_picture(self):
        self.refuse(r"--plot: is curves\.svg; give the name of a picture, NAME\.png", "--plot", "curves.svg")

    def test_what_is_there_stays(self):
        for option, name in (("--map", "map.png"), ("--csv", "beam.csv"), ("--plot", "plot.svg"),
                             ("--pattern", "pattern.svg")):
            self.write(name, "old")
            self.refuse(rf"{escaped(name)}: already there; replace it with --force or .* {option}", option,
                        name.replace("svg", "png"))
            self.assertEqual((self.folder / name).read_text(), "old")
        self.beam("--csv", "beam.csv", "-f")

    def test_two_outputs_of_one_name(self):
        self.refuse(r"--plot: would write b\.csv, as --csv does; give one of the two another name", "--csv", "./b.csv", "--plot",
                    "b.png")
        self.refuse(r"--pattern: would write p\.csv, as --plot does; .*", "--plot", "p.png", "--pattern", "p.png", "-f")

    def test_no_room_for_results(self):
        self.refused(3, r".*nowhere.*", "beam", "--probe", "./disc.toml", "--scan", "./beam.toml", "--csv",
                     "/proc/nowhere/beam.csv", "-q")


if __name__ == "__main__":
    unittest.main()
