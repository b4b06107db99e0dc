"""The gate as a person runs it: new scenarios, accepted ones, changed ones, and what is written where."""

import json
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree as ElementTree
from pathlib import Path

GATE = sys.argv.pop(1)

SCENARIOS = """\
[[recording]]
name = "lines"
phantom = "single_point"
probe = "linear_5MHz"
scan = "lines_focus_20mm"
set = "probe.elements=24 scan.transmit_elements=16 scan.receive_elements=16 scan.lines=9 scan.depth_mm=36"
[[recording.image]]
name = "narrow"
recipe = "growing_aperture"
set = "receive.max_elements=16 receive.f_number=2.5"
[[recording.image]]
name = "wide"
recipe = "growing_aperture"
set = "receive.max_elements=16 receive.f_number=9 receive.window=kaiser receive.window_parameter=2.0"
"""


class Gate(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory(prefix="echoloom-gate-test-")
        self.addCleanup(scratch.cleanup)
        self.folder = Path(scratch.name)
        (self.folder / "s.toml").write_text(SCENARIOS)

    def gate(self, code, *words):
        result = subprocess.run([GATE, "--scenarios", "s.toml", "--baseline", "kept", "--pictures", "drawn", *words],
                                cwd=self.folder, capture_output=True, text=True, timeout=120)
        self.assertEqual(result.returncode, code, result.stdout + result.stderr)
        return result.stdout + result.stderr

    def change(self, old, new):
        text = (self.folder / "s.toml").read_text()
        self.assertEqual(text.count(old), 1)
        (self.folder / "s.toml").write_text(text.replace(old, new))

    def files(self, folder):
        return sorted(path.name for path in (self.folder / folder).glob("*"))

    def test_from_new_to_accepted_to_changed(self):
        self.assertRegex(self.gate(2), r"INCONCLUSIVE: it has no baseline yet; look at it, then run tools/gate accept")
        self.assertEqual(self.files("kept"), [])
        self.gate(0, "accept")
        self.assertEqual(self.files("kept"), ["lines.narrow.json", "lines.narrow.levels", "lines.wide.json",
                                              "lines.wide.levels"])
        self.assertRegex(self.gate(0), r"2 images in .*: IDENTICAL")
        kept = (self.folder / "kept/lines.wide.json").read_bytes()

        self.change("f_number=9", "f_number=8.5")
        text = self.gate(1, "--junit", "r.xml", "--json", "r.json")
        self.assertRegex(text, r"lines\.narrow +IDENTICAL +same bits")
        self.assertRegex(text, r"lines\.wide +(BETTER|WORSE|DIFFERENT) +echoes same bits")
        self.assertRegex(text, r"points\.lateral_6dB_mm .* BETTER")
        self.assertEqual(self.files("drawn"), ["lines.wide.png"])
        self.assertNotEqual(json.loads((self.folder / "r.json").read_text())["verdict"], "same")
        suites = ElementTree.parse(self.folder / "r.xml").getroot().findall("testsuite")
        self.assertEqual([int(suite.get("failures")) > 0 for suite in suites], [False, True])

        self.assertIn("points.lateral_6dB_mm", self.gate(0, "accept"))  # shows what it accepts
        self.assertNotEqual((self.folder / "kept/lines.wide.json").read_bytes(), kept)
        self.assertRegex(self.gate(0), r"IDENTICAL")

    def test_small_changes_pass_and_do_not_add_up(self):
        self.gate(0, "accept")
        kept = (self.folder / "kept/lines.wide.json").read_bytes()
        self.change("parameter=2.0", "parameter=2.0002")
        self.assertRegex(self.gate(0), r"lines\.wide +SAME WITHIN TOLERANCE +echoes same bits")
        self.assertEqual(self.files("drawn"), [])
        self.gate(0, "accept")
        self.assertEqual((self.folder / "kept/lines.wide.json").read_bytes(), kept)
        self.gate(0, "accept", "--all")
        self.assertNotEqual((self.folder / "kept/lines.wide.json").read_bytes(), kept)

    def test_another_grid_and_scenarios_that_are_gone(self):
        self.gate(0, "accept")
        self.change("receive.f_number=2.5", "receive.f_number=2.5 grid.min_depth_mm=1")
        self.assertRegex(self.gate(2, "lines.narrow"), r"sample positions differ: before, 9 columns from x -1\.16")
        self.change('name = "narrow"', 'name = "other"')
        self.assertRegex(self.gate(2), r"no longer a scenario: .*lines\.narrow\.json")
        self.gate(0, "accept")
        self.assertEqual(self.files("kept"), ["lines.other.json", "lines.other.levels", "lines.wide.json",
                                              "lines.wide.levels"])

    def test_mistakes(self):
        self.assertRegex(self.gate(2, "lines.wid"), r"error: lines\.wid: no scenario has this name; did you mean "
                                                    r"'lines\.wide'\?")
        self.assertRegex(self.gate(2, "--junit"), r"error: --junit: its value is missing")
        self.assertRegex(self.gate(2, "--picture"), r"error: --picture: unknown option; see tools/gate --help")


if __name__ == "__main__":
    unittest.main()
