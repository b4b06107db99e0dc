"""A scratch folder with a tiny phantom, probe, scans and recipe, and the command run inside it."""

import os
import re
import resource
import signal
import subprocess
import tempfile
import unittest
from pathlib import Path

ECHOLOOM = os.environ.get("ECHOLOOM", "echoloom")

PHANTOM = """\
seed = 3

[medium]
sound_speed_m_s = 1540.0
attenuation_dB_cm_MHz = 0.3

[[point]]
position_mm = [0.0, 0.0, 8.0]
strength_dB = 0.0

[[point]]
position_mm = [0.0, 0.0, 14.0]
strength_dB = 0.0

[[speckle]]
name = "speckle"
shape = "box"
center_mm = [0.0, 0.0, 11.0]
size_mm = [6.0, 1.0, 10.0]
density_per_mm3 = 4.0
strength_dB = -60.0
"""

PROBE = """\
kind = "linear"
elements = 24
pitch_mm = 0.30
width_mm = 0.27
height_mm = 5.0
elevation_focus_mm = 20.0
center_MHz = 5.0
bandwidth_percent = 60.0
baffle = "rigid"
"""

LINES = """\
kind = "focused"
focus_depth_mm = 10.0
transmit_elements = 12
receive_elements = 16
lines = 13
line_spacing_mm = 0.3
sampling_MHz = 40.0
depth_mm = 18.0
sound_speed_m_s = 1540.0
"""

PLANES = """\
kind = "plane_waves"
angles_deg = [-5.0, 0.0, 5.0]
sampling_MHz = 40.0
depth_mm = 18.0
sound_speed_m_s = 1540.0
"""

RECIPE = """\
[receive]
focus = "dynamic"
aperture = "growing"
f_number = 2.0
max_elements = 16
window = "hann"

[picture]
title = "A recipe of the test"
"""

FIXED = """\
[receive]
focus = "fixed"
focus_depth_mm = 10.0

[picture]
title = "Held at 10 mm"
"""


class Bench(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory(prefix="echoloom-cli-")
        self.addCleanup(scratch.cleanup)
        self.folder = Path(scratch.name)
        for name, text in {
            "phantom": PHANTOM, "probe": PROBE, "lines": LINES, "planes": PLANES, "recipe": RECIPE, "fixed": FIXED,
        }.items():
            self.write(name + ".toml", text)

    def write(self, name, text):
        (self.folder / name).write_text(text)

    def change(self, name, old, new):
        """Rewrites one place of a settings file; returns the line it stands on."""
        text = (self.folder / name).read_text()
        self.assertEqual(text.count(old), 1, f"'{old}' in {name}")
        self.write(name, text.replace(old, new))
        return text[: text.index(old)].count("\n") + 1

    def home(self, *names_and_texts):
        """An environment in which these files, and no others, are shipped."""
        for name, text in zip(names_and_texts[::2], names_and_texts[1::2]):
            (self.folder / "home" / name).parent.mkdir(parents=True, exist_ok=True)
            self.write(f"home/{name}", text)
        return {**os.environ, "ECHOLOOM_HOME": str(self.folder / "home")}

    def files(self):
        return {str(p.relative_to(self.folder)) for p in self.folder.rglob("*") if p.is_file()}

    def run_command(self, *words, largest_file=None, **options):
        def limit():
            if largest_file is not None:
                resource.setrlimit(resource.RLIMIT_FSIZE, (largest_file, largest_file))

        return subprocess.run([ECHOLOOM, *map(str, words)], cwd=self.folder, capture_output=True, text=True,
                              timeout=120, preexec_fn=limit, **options)

    def done(self, *words, **options):
        """Runs the command, which must succeed; returns its standard output."""
        result = self.run_command(*words, **options)
        self.assertEqual(result.returncode, 0, result.stderr)
        self.assertNotIn("error", result.stderr)
        return result.stdout

    def refused(self, code, pattern, *words, notes=False, **options):
        """Runs the command, which must fail with one line that matches the whole pattern and leave no trace."""
        before = self.files()
        result = self.run_command(*words, **options)
        lines = result.stderr.splitlines()
        if notes:
            lines = [line for line in lines if line.startswith("error")]
        self.assertEqual(len(lines), 1, result.stderr)
        self.assertRegex(lines[0], f"^error: {pattern}$")
        self.assertEqual(result.returncode, code, lines[0])
        self.assertEqual(result.stdout, "")
        self.assertEqual(self.files(), before)
        return lines[0]

    def simulate(self, output="recording.h5", scan="./lines.toml", *more, **options):
        return self.done("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", scan, "-o", output, "-q",
                         *more, **options)

    def reconstruct(self, *more, recording="recording.h5", recipe="./recipe.toml", **options):
        return self.done("reconstruct", recording, "--recipe", recipe, "-q", *more, **options)


def escaped(text):
    return re.escape(str(text))
