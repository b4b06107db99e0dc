"""Help, versions, misspelt commands and options, exit codes and the purity of standard output."""

import json
import re
import shlex
import subprocess
import unittest
from pathlib import Path

from bench import ECHOLOOM, Bench


COMMANDS = ("simulate", "reconstruct", "measure", "panels", "beam", "wavefronts", "import", "compare", "show", "list")
RUN = ("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./lines.toml")


class CommandLine(Bench):
    def helps(self):
        """Every help there is: of the program, and of each command it lists."""
        text = self.done("--help")
        listed = re.findall(r"^  ([a-z]+) ", text[text.index("\nCommands:"):], re.MULTILINE)
        self.assertEqual(set(listed), set(COMMANDS))
        return {"": text, **{name: self.done(name, "--help") for name in listed}}

    def test_help_goes_to_standard_output(self):
        for words in (["--help"], ["-h"], *([name, "--help"] for name in COMMANDS)):
            result = self.run_command(*words)
            self.assertEqual(result.returncode, 0)
            self.assertEqual(result.stderr, "")
            text = result.stdout
            self.assertLess(text.index("Examples:"), text.index("Usage:"))
            self.assertTrue(all(len(line) <= 120 for line in text.splitlines()), text)

    def test_bare_command_prints_the_short_help(self):
        result = self.run_command()
        self.assertEqual((result.returncode, result.stderr), (0, ""))
        self.assertEqual(result.stdout, self.done("--help"))

    def test_long_options_are_lower_case(self):
        for name, text in self.helps().items():
            options = re.findall(r"^  (?:-\w,)?--(\S+)", text[text.index("Usage:"):], re.MULTILINE)
            self.assertGreaterEqual(len(options), 1, text)
            for option in options:
                self.assertRegex(option, r"^[a-z][a-z0-9-]*$", f"{name} --{option}")

    def test_every_help_names_exit_codes_and_where_outputs_land(self):
        for name, text in self.helps().items():
            words = " ".join(text.split())
            for code in ("0 done", "1 different (compare only)", "2 an option or a file is invalid", "3 the machine refused",
                         "130 interrupted"):
                self.assertIn(code, words, name)
            self.assertIn("goes exactly there, seen from the current folder; without an option an output goes beside the "
                          "recording or image that it is made from or, where there is none, into the current folder", words)

    def test_shared_options_are_the_same_everywhere(self):
        lines = {}
        for name, text in self.helps().items():
            for option in ("--threads", "--json", "--force", "--quiet"):
                found = re.search(rf"^  (?:-\w,)?{option}\b.*$", text[text.index("Usage:"):], re.MULTILINE)
                without = {"": {"--threads", "--json", "--force", "--quiet"}, "show": {"--force"},
                           "list": {"--threads", "--force", "--quiet"}}
                self.assertEqual(found is None, option in without.get(name, ()), f"{name} {option}")
                if found:
                    lines.setdefault(option, set()).add(" ".join(found.group().split()))
        for option, forms in lines.items():
            self.assertEqual(len(forms), 1, forms)

    def test_examples_of_helps_are_read(self):
        """Each example is a command line that the program takes: what may be missing is a file."""
        (self.folder / "recording.h5").write_text("")
        for name, text in self.helps().items():
            block = text[text.index("Examples:"):text.index("Usage:")].replace("\\\n", " ")
            examples = re.findall(r"^  echoloom (.+)$", block, re.MULTILINE)
            self.assertGreaterEqual(len(examples), 3, name)
            for example in examples:
                words = shlex.split(re.split(r" > |  #", example)[0])
                if words[0] in ("simulate", "import"):
                    words.append("--dry-run") if "--dry-run" not in words and "--example" not in words else None
                elif words[0] in ("beam", "wavefronts"):
                    words += ["--threads", "0"]  # refused once all else was read
                result = self.run_command(*words)
                with self.subTest(example):
                    if result.returncode:
                        self.assertEqual(result.returncode, 2)
                        self.assertRegex(result.stderr, r"no such file|--threads: is 0")

    def test_help_says_what_options_take(self):
        text = self.done("simulate", "--help")
        for option in ("--probe", "--scan", "--output", "--set", "--threads", "--memory-gib", "--dry-run", "--force"):
            self.assertIn(option, text)
        self.assertIn("GiB; default 2", text)
        self.assertNotIn("cells-per-block", text)

    def test_help_carries_the_caution(self):
        self.assertIn("not for diagnosis", self.done("--help"))

    def test_version_names_the_libraries(self):
        self.assertRegex(self.done("--version"), r"^echoloom \d+\.\d+\.\d+ \(HDF5 1\.\d+\.\d+, .*3\.\d+\.\d+.*\)\n$")

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
        self.refused(2, r"--memory-gib: is nan; give a number more than 0", "simulate", "./phantom.toml", "--probe",
                     "./probe.toml", "--scan", "./lines.toml", "--memory-gib", "nan")

    def test_numbers_of_a_place_stand_together(self):
        self.refused(2, r"echoloom wavefronts: '40' is not known here; numbers that belong together stand between commas without "
                        r"spaces, as in 3,40; see echoloom wavefronts --help", "wavefronts", "--point", "3", "40")

    def test_what_is_shipped_is_listed_with_a_line_each(self):
        listed = json.loads(self.done("list", "--json"))
        self.assertGreaterEqual(len(listed["probes"]), 3)
        self.assertGreaterEqual(len(listed["scans"]), 5)
        self.assertGreaterEqual(len(listed["phantoms"]), 5)
        words = self.done("list")
        for kind in ("phantoms", "probes", "scans", "recipes"):
            for name, what in listed[kind].items():
                self.assertGreater(len(what), 10, f"{kind}/{name} does not begin with a comment that says what it is")
            alone = self.done("list", kind)
            self.assertIn(alone, words)
            lines = alone.splitlines()[1:]
            self.assertEqual([line.split()[0] for line in lines], list(listed[kind]))
            self.assertEqual(list(json.loads(self.done("list", kind, "--json"))), [kind])
            starts = {len(re.match(r"  \S+ +", line).group()) for line in lines}
            self.assertEqual(len(starts), 1, "sentences are aligned")
            self.assertTrue(all(len(line) <= 120 for line in lines))
        self.refused(2, r"echoloom list: .*boxes.*", "list", "boxes")

    def test_a_long_first_sentence_is_cut_between_words(self):
        home = self.home("recon/recipes/tall.toml", "# " + "word " * 60 + "end.\n")
        line = self.done("list", "recipes", env=home).splitlines()[1]
        self.assertRegex(line, r"^  tall  word .* word \.\.\.$")
        self.assertLessEqual(len(line), 120)
        self.assertGreater(len(line), 105)

    def test_shipped_is_no_magic_word(self):
        self.refused(2, r"shipped: no such file, and nothing of this name is shipped; `echoloom list` lists what is", "show",
                     "shipped")

    def test_dry_run_writes_nothing(self):
        before = self.files()
        words = self.done("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./lines.toml",
                          "--dry-run")
        self.assertRegex(words, r"13 events of 16 channels .* memory.* file")
        needs = json.loads(self.done(*RUN, "-n", "--json"))
        self.assertEqual((needs["written"], needs["events"], needs["channels"]), ([], 13, 16))
        self.assertEqual(needs["file_bytes"], 4 * 13 * 16 * needs["samples"])
        self.assertGreater(needs["memory_bytes"], needs["file_bytes"])
        self.assertAlmostEqual(needs["max_frame_rate_Hz"], 1540.0 / (2 * 0.018 * 13), places=6)
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

    def test_json_names_what_was_written(self):
        made = json.loads(self.done(*RUN, "--json", "-q"))
        self.assertEqual(made["written"], ["recording.h5"])
        self.assertRegex(made["content_digest"], "^sha256:[0-9a-f]{64}$")
        one = json.loads(self.reconstruct("--json"))
        self.assertEqual(one, {"written": ["recipe.h5", "recipe.png"]})
        two = json.loads(self.reconstruct("--recipe", "./fixed.toml", "-o", "both", "--json"))["written"]
        self.assertEqual(two[:5], ["both/recipe.h5", "both/recipe.png", "both/fixed.h5", "both/fixed.png", "both/panels.png"])
        self.assertLessEqual(set(two), self.files())
        measured = json.loads(self.done("measure", "recipe.h5", "--json", "--csv", "t.csv", "-q"))
        self.assertEqual(measured["written"], ["t.csv", "t_quantities.csv"])
        self.assertEqual(json.loads(self.done("measure", "recipe.h5", "--json"))["written"], [])
        compared = json.loads(self.done("compare", "recipe.h5", "recipe.h5", "--json", "--junit", "r.xml", "-q"))
        self.assertEqual(compared["written"], ["r.xml"])

    def test_quiet_reports_write_nothing_to_standard_error(self):
        self.simulate()
        self.reconstruct()
        for words in (["measure", "recipe.h5", "--plot", "curves"], ["compare", "recipe.h5", "recipe.h5", "--junit", "r.xml"],
                      ["panels", "recipe.h5", "recipe.h5"], ["show", "recording.h5", "--verify"]):
            result = self.run_command(*words, "-q")
            self.assertEqual((result.returncode, result.stderr), (0, ""), words)

    def test_full_standard_output_is_no_success(self):
        with open("/dev/full", "w") as full:
            result = subprocess.run([ECHOLOOM, "list"], stdout=full, stderr=subprocess.PIPE, text=True)
        self.assertEqual(result.returncode, 3)
        self.assertRegex(result.stderr, r"^error: the results could not be written to standard output; .*\n$")


class Counts(Bench):
    def test_numbers_agree_with_nouns(self):
        self.write("one.toml", (self.folder / "phantom.toml").read_text().split("[[point]]")[0] +
                   '[[point]]\nposition_mm = [0.0, 0.0, 8.0]\nstrength_dB = 0.0\n')
        self.done("simulate", "./one.toml", "--probe", "./probe.toml", "--scan", "./lines.toml", "-o", "one.h5", "-q",
                  "--set", "scan.lines=1", "--set", "scan.receive_elements=1")
        words = self.done("show", "one.h5")
        for part in ("1 focused line", "1 channel by", "truth        1 point, 0 regions", "1540 m/s / (2 x 18 mm x 1 line)"):
            self.assertIn(part, words)
        result = self.run_command("reconstruct", "one.h5", "--recipe", "./fixed.toml")
        self.assertRegex(result.stderr, r"^1 event of 1 channel by \d+ samples ")
        self.refused(2, r'--event: is 2; the recording has 1 event, counted from 1', "wavefronts", "--recording", "one.h5",
                     "--echoes", "e.png", "--event", "2")
        words = self.done("show", "./one.toml")
        self.assertIn("1 point, 0 wires", words)


class Show(Bench):
    def test_recording_in_words(self):
        self.simulate()
        words = self.done("show", "recording.h5")
        for part in ("a recording", "24 elements", "5 MHz", "60 %", "13 focused lines", "12 elements transmitting",
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

    def test_acquired_data_that_leave_out_their_depth(self):
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
        listed = json.loads(self.done("list", "--json"))
        for name in listed["probes"]:
            self.assertIn(f"{name}: a probe", self.done("show", name))
        # Rate by the formula that is printed with it; recomputed by tests/published/recompute_timing.py.
        words = self.done("show", "lines_focus_40mm", "--probe", "linear_5MHz", "--set", "scan.depth_mm=150")
        self.assertIn("200 focused lines, transmit focus 40 mm", words)
        self.assertIn("at most 25.667 Hz: 1540 m/s / (2 x 150 mm x 200 lines)", words)
        self.refused(2, r"--probe: missing: what the scan lines_focus_40mm does depends on the array; .*", "show",
                     "lines_focus_40mm")
        self.write("empty.toml", "")
        self.refused(2, r"\./empty\.toml: holds no phantom, probe, scan or recipe; .*", "show", "./empty.toml")
        self.refused(2, r"--set: depth_mm: does not begin with the name of its file; write phantom\.depth_mm=150, "
                        r"probe\.depth_mm=150, scan\.depth_mm=150 or recipe\.depth_mm=150", "show", "lines_focus_40mm",
                     "--probe", "linear_5MHz", "--set", "depth_mm=150")

    def test_options_that_an_image_has_no_use_for(self):
        self.simulate()
        self.refused(2, r"--probe: goes with a scan.*", "show", "recording.h5", "--probe", "./probe.toml")
        self.refused(2, r"--set: scan\.depth_mm: cannot apply: this is a recording", "show", "recording.h5",
                     "--set", "scan.depth_mm=3")

    def test_dry_run_says_the_frame_rate(self):
        words = self.done("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./planes.toml", "-n")
        self.assertIn("frame rate at most 14259.3 Hz: 1540 m/s / (2 x 18 mm x 3 waves)", words)

    def test_no_such_file(self):
        self.refused(2, r"nothing\.h5: no such file", "show", "nothing.h5")
        self.refused(2, r"single_pint: no such file, and nothing of this name is shipped; `echoloom list` lists what is", "show",
                     "single_pint")

    def test_toml_prints_any_shipped_file(self):
        for kind, names in json.loads(self.done("list", "--json")).items():
            folder = re.search(rf"^{kind}, in (.+)$", self.done("list", kind), re.MULTILINE).group(1)
            for name in names:
                text = self.done("show", "--toml", name)
                self.assertEqual(text, (Path(folder) / f"{name}.toml").read_text())
            as_json = json.loads(self.done("show", "--toml", name, "--json"))
            self.assertEqual((as_json["kind"], as_json["text"]), (kind[:-1], text))
        self.assertEqual(self.done("show", "--toml", "./phantom.toml"), (self.folder / "phantom.toml").read_text())
        self.refused(2, r"--set: scan\.depth_mm: --toml prints the file as it is; .*", "show", "--toml", "lines_focus_40mm",
                     "--set", "scan.depth_mm=3")
        self.simulate()
        self.refused(2, r"--toml: prints the text of a phantom, .* and this is a recording", "show", "--toml", "recording.h5")

    def test_phantoms_and_recipes_in_words(self):
        words = self.done("show", "./phantom.toml")
        for part in ("./phantom.toml: a phantom", "1540 m/s, attenuation 0.3 dB/cm", "2 points, 0 wires", "1 region, 0 inclusions",
                     "x from -3 to 3 mm, elevation from -0.5 to 0.5 mm, depth from 6 to 16 mm", "at most 242, seed 3",
                     "echoloom show --toml ./phantom.toml prints it"):
            self.assertIn(part, words)
        facts = json.loads(self.done("show", "./phantom.toml", "--json", "--set", "phantom.seed=7"))
        self.assertEqual((facts["points"], facts["regions"], facts["seed"]), (2, 1, 7))
        words = self.done("show", "./recipe.toml")
        for part in ('a recipe, "A recipe of the test"', "dynamic receive focus", "growing aperture, F/2, up to 16 elements", "Hann window",
                     "--toml ./recipe.toml prints it"):
            self.assertIn(part, words)
        facts = json.loads(self.done("show", "./recipe.toml", "--json", "--set", "recipe.receive.f_number=3"))
        self.assertEqual((facts["focus"], facts["f_number"], facts["window"]), ("dynamic", 3, "hann"))
        for kind in ("phantoms", "recipes"):
            for name in json.loads(self.done("list", kind, "--json"))[kind]:
                self.assertIn(f"{name}: a {kind[:-1]}", self.done("show", name))
        self.refused(2, r"--set: scan\.depth_mm: cannot apply: this is a phantom", "show", "single_point", "--set",
                     "scan.depth_mm=3")
        self.refused(2, r"--verify: recomputes the digest of a recording, and this is a recipe", "show", "zones", "--verify")

    def test_a_name_on_two_shelves_is_not_guessed(self):
        home = self.home("recon/recipes/twice.toml", "# A recipe.\n", "sim/probes/twice.toml", "# A probe.\n",
                         "phantoms/once.toml", "# A phantom.\n", "sim/scans/once.toml", "# A scan.\n")
        self.refused(2, r"twice: is the name of a probe and a recipe; give the file of one, \S+/sim/probes/twice\.toml or "
                        r"\S+/recon/recipes/twice\.toml", "show", "--toml", "twice", env=home)

    def test_recordings_and_images_are_not_taken_for_each_other(self):
        self.simulate("recording.h5")
        self.refused(2, r"recording\.h5: .*give an image of it, which `echoloom reconstruct` forms", "measure",
                     "recording.h5")


if __name__ == "__main__":
    unittest.main()
