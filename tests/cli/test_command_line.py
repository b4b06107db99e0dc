"""Help, versions, misspelt commands and options, exit codes and the purity of standard output."""

import json
import os
import re
import subprocess
import time
import unittest
from pathlib import Path

from bench import ECHOLOOM, Bench


class CommandLine(Bench):
    def test_help_goes_to_standard_output(self):
        for words in (["--help"], ["-h"], ["simulate", "--help"], ["reconstruct", "-h"], ["measure", "--help"],
                      ["sheet", "--help"], ["field", "--help"], ["wavefronts", "--help"], ["show", "--help"]):
            result = self.run_command(*words)
            self.assertEqual(result.returncode, 0)
            self.assertEqual(result.stderr, "")
            text = result.stdout
            self.assertLess(text.index("Examples:"), text.index("Usage:"))
            self.assertTrue(all(len(line) <= 120 for line in text.splitlines()), text)

    def test_help_says_what_options_take(self):
        text = self.done("simulate", "--help")
        for option in ("--probe", "--scan", "--output", "--set", "--threads", "--memory-GiB", "--dry-run", "--force"):
            self.assertIn(option, text)
        self.assertIn("GiB; default 2", text)
        self.assertNotIn("cells-per-block", text)

    def test_help_carries_the_caution(self):
        self.assertIn("not for diagnosis", self.done("--help"))

    def test_version_names_the_libraries(self):
        self.assertRegex(self.done("--version"), r"^echoloom \d+\.\d+\.\d+ \(HDF5 1\.\d+\.\d+, .*3\.\d+\.\d+.*\)\n$")

    def test_nothing_at_all(self):
        self.refused(2, r"echoloom: .*subcommand.*; see echoloom --help")

    def test_misspelt_command(self):
        self.refused(2, r"echoloom: 'simulat' is not known here; did you mean 'simulate'\?; see echoloom --help",
                     "simulat")

    def test_misspelt_option(self):
        self.refused(2, r"echoloom show: '--jsn' is not known here; did you mean '--json'\?; see echoloom show --help",
                     "show", "x.h5", "--jsn")

    def test_missing_option(self):
        self.refused(2, r"echoloom simulate: --probe is required; see echoloom simulate --help", "simulate", "a.toml",
                     "--scan", "b")

    def test_option_without_value(self):
        self.refused(2, r"echoloom simulate: --probe: .*; see echoloom simulate --help", "simulate", "a.toml",
                     "--scan", "b", "--probe")

    def test_words_for_numbers(self):
        self.refused(2, r"echoloom simulate: .*--threads = many; see .*", "simulate", "./phantom.toml", "--probe",
                     "./probe.toml", "--scan", "./lines.toml", "--threads", "many")
        self.refused(2, r"--threads: is 0; give a whole number from 1 to 1024", "simulate", "./phantom.toml", "--probe",
                     "./probe.toml", "--scan", "./lines.toml", "--threads", "0")
        self.refused(2, r"--memory-GiB: is nan; give a number more than 0", "simulate", "./phantom.toml", "--probe",
                     "./probe.toml", "--scan", "./lines.toml", "--memory-GiB", "nan")

    @unittest.skipIf(os.environ.get("ECHOLOOM_SANITIZE") == "1", "sanitizers take their own time to start")
    def test_starts_at_once(self):
        self.done("--version")
        quickest = min(self.seconds("--version") for _ in range(10))
        # 20 ms is the aim; the rest is room for a busy machine.
        self.assertLess(quickest, 0.05)

    def seconds(self, *words):
        start = time.perf_counter()
        self.done(*words)
        return time.perf_counter() - start

    def test_shipped_files_are_listed_with_a_line_each(self):
        listed = json.loads(self.done("show", "shipped", "--json"))
        self.assertGreaterEqual(len(listed["probes"]), 3)
        self.assertGreaterEqual(len(listed["scans"]), 5)
        self.assertGreaterEqual(len(listed["phantoms"]), 5)
        for kind in ("phantoms", "probes", "scans", "recipes"):
            for name, what in listed[kind].items():
                self.assertGreater(len(what), 10, f"{kind}/{name} does not begin with a comment that says what it is")
        words = self.done("show", "shipped")
        for kind in listed:
            for name in listed[kind]:
                self.assertIn(f"  {name} ", words)

    def test_dry_run_writes_nothing(self):
        before = self.files()
        words = self.done("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./lines.toml",
                          "--dry-run")
        self.assertRegex(words, r"13 events of 16 channels .* memory.* file")
        self.assertEqual(self.files(), before)

    def test_results_and_messages_do_not_mix(self):
        result = self.run_command("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./lines.toml")
        self.assertRegex(result.stdout, r"^recording\.h5  sha256:[0-9a-f]{64}\n$")
        self.assertRegex(result.stderr, r"memory")
        result = self.run_command("reconstruct", "recording.h5", "--recipe", "./recipe.toml")
        self.assertEqual(result.stdout, "recipe.h5\nrecipe.png\n")
        self.assertNotIn("\r", result.stderr)
        self.assertNotIn("\x1b", result.stderr)

    def test_quiet_is_silent(self):
        result = self.run_command("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./lines.toml",
                                  "-q")
        self.assertEqual(result.stderr, "")
        result = self.run_command("reconstruct", "recording.h5", "--recipe", "./recipe.toml", "-q")
        self.assertEqual(result.stderr, "")

    def test_full_standard_output_is_no_success(self):
        with open("/dev/full", "w") as full:
            result = subprocess.run([ECHOLOOM, "show", "shipped"], stdout=full, stderr=subprocess.PIPE, text=True)
        self.assertEqual(result.returncode, 3)
        self.assertRegex(result.stderr, r"^error: standard output .*\n$")


class Show(Bench):
    def test_recording_in_words(self):
        self.simulate()
        words = self.done("show", "recording.h5")
        for part in ("a recording", "24 elements", "5 MHz", "60 %", "13 focused lines", "12 elements sending",
                     "transmit focus 10 mm", "16 channels", "40 MHz", "1540 m/s", "0.3 dB/cm", "2 points", "1 region",
                     "sha256:", "seed 3", "noise        none"):
            self.assertIn(part, words)

    def test_recording_in_numbers(self):
        self.simulate("recording.h5", "./lines.toml", "--set", "scan.noise_snr_dB=30",
                      "--set", "scan.quantization_bits=12")
        facts = json.loads(self.done("show", "recording.h5", "--json"))
        self.assertEqual(facts["events"], 13)
        self.assertEqual(facts["channels"], 16)
        self.assertEqual(facts["noise_snr_dB"], 30)
        self.assertEqual(facts["quantization_bits"], 12)
        self.assertEqual(facts["true_points"], 2)
        # The round trip sets the frame rate: c / (2 depth events).
        self.assertAlmostEqual(facts["max_frame_rate_Hz"], 1540.0 / (2 * 0.018 * 13), places=6)
        self.assertEqual((facts["frame_lines"], facts["frame_zones"]), (13, 1))
        self.assertAlmostEqual(facts["frame_depth_m"], 0.018, places=12)
        self.assertGreaterEqual(facts["max_depth_m"], 0.018)

    def test_an_image_that_another_program_wrote(self):
        """Its texts may be of variable length."""
        import h5py
        self.simulate()
        self.reconstruct("-o", "image.h5")
        with h5py.File(self.folder / "image.h5", "r+") as file:
            del file.attrs["format"]
            file.attrs["format"] = "echoloom image"
            self.assertIsNone(h5py.check_string_dtype(file.attrs.get_id("format").dtype).length)
        self.assertIn("an image", self.done("show", "image.h5"))

    def test_image_in_words(self):
        self.simulate()
        self.reconstruct("-o", "image.h5")
        words = self.done("show", "image.h5")
        for part in ("an image", "A recipe of the test", "13 lines", "dynamic receive focus", "F/2", "Hann",
                     "2 points", "sha256:"):
            self.assertIn(part, words)
        facts = json.loads(self.done("show", "image.h5", "--json"))
        self.assertEqual(facts["columns"], 13)
        self.assertEqual(facts["recipe"], "recipe")

    def test_a_bench_that_does_not_say_its_depth(self):
        """Then the time of the echoes stands in for it."""
        import h5py
        self.simulate()
        with h5py.File(self.folder / "recording.h5", "r+") as file:
            del file["transmit/depth_m"]
        facts = json.loads(self.done("show", "recording.h5", "--json"))
        self.assertAlmostEqual(facts["frame_depth_m"], facts["max_depth_m"], places=12)
        self.assertAlmostEqual(facts["max_frame_rate_Hz"], 1540.0 / (2 * facts["max_depth_m"] * 13), places=6)
        self.assertIn("by the time of the echoes", self.done("show", "recording.h5"))

    def test_shipped_probes_and_scans(self):
        listed = json.loads(self.done("show", "shipped", "--json"))
        for name in listed["probes"]:
            self.assertIn(f"{name}: a probe", self.done("show", name))
        # Rate by the formula that is printed with it; recomputed by tests/published/recompute_timing.py.
        words = self.done("show", "lines_focus_40mm", "--probe", "linear_5MHz", "--set", "scan.depth_mm=150")
        self.assertIn("192 focused lines, transmit focus 40 mm", words)
        self.assertIn("at most 26.736 per second: 1540 m/s / (2 x 150 mm x 192 lines)", words)
        self.refused(2, r"--probe: missing: what the scan lines_focus_40mm does depends on the array; .*", "show",
                     "lines_focus_40mm")
        self.refused(2, r"\./phantom\.toml: neither a probe nor a scan; .*", "show", "./phantom.toml")
        self.refused(2, r"--set: depth_mm: belongs to none of the files; begin the key with probe\. or scan\.", "show",
                     "lines_focus_40mm", "--probe", "linear_5MHz", "--set", "depth_mm=150")

    def test_options_that_an_image_has_no_use_for(self):
        self.simulate()
        self.refused(2, r"--probe: goes with a scan.*", "show", "recording.h5", "--probe", "./probe.toml")
        self.refused(2, r"--set: changes a probe or a scan.*", "show", "recording.h5", "--set", "scan.depth_mm=3")

    def test_dry_run_says_the_frame_rate(self):
        words = self.done("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./planes.toml", "-n")
        self.assertIn("frame rate at most 14259.3 per second: 1540 m/s / (2 x 18 mm x 3 waves)", words)

    def test_no_such_file(self):
        self.refused(2, r"nothing\.h5: no such file", "show", "nothing.h5")
        self.refused(2, r"single_pint: no such file; give a recording, an image, or what is shipped \(`echoloom show shipped` lists .*\)",
                     "show", "single_pint")

    def test_a_shipped_phantom_or_recipe_is_printed(self):
        for kind, name in (("phantoms", "single_point"), ("recipes", "growing_aperture")):
            text = self.done("show", name)
            (self.folder / "mine.toml").write_text(text)
            folder = re.search(rf"^{kind}, in (.+)$", self.done("show", "shipped"), re.MULTILINE).group(1)
            self.assertEqual(text, (Path(folder) / f"{name}.toml").read_text())
            self.assertEqual(text, json.loads(self.done("show", name, "--json"))["text"])
        self.refused(2, r"--set: changes a probe or a scan, and this is neither", "show", "single_point", "--set",
                     "scan.depth_mm=3")

    def test_recordings_and_images_are_not_taken_for_each_other(self):
        self.simulate("recording.h5")
        self.refused(2, r"recording\.h5: .*give an image of it, which `echoloom reconstruct` forms", "measure",
                     "recording.h5")


if __name__ == "__main__":
    unittest.main()
