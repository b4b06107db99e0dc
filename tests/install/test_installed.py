"""An installation does the whole job from another folder, with the sources out of sight; its pages say what --help says."""

import re
import subprocess
import unittest

from elsewhere import Elsewhere, SOURCE, install


def help_options(text):
    """Names of options from a --help: what stands before the explanation on lines that begin with one."""
    names = set()
    for line in text.splitlines():
        if re.match(r" {2,}-", line):
            names.update(re.findall(r"(?:^|[ ,])(--?[A-Za-z][\w-]*)", re.split(r"(?<=\S) {2,}", line.strip())[0]))
    return names


class Installed(Elsewhere):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.program = install(cls.folder / "prefix")
        cls.share = cls.folder / "prefix/share"

    def test_sources_are_out_of_sight(self):
        seen = self.run_hidden("cat", SOURCE / "README.md").returncode == 0
        known = str(SOURCE).encode() in self.program.read_bytes()
        self.assertFalse(seen and known)

    def test_the_whole_job(self):
        self.assertIn(str(self.share / "echoloom/sim/probes"), self.shipped(self.program))
        self.done(self.program, "simulate", "single_point", "--probe", "linear_5MHz", "--scan", "lines_focus_40mm", "--set",
                  "scan.lines=17", "--set", "scan.depth_mm=50", "-q", "-o", "recording.h5")
        # Two recipes and a true point: pictures, a page of both and curves, which need font, gnuplot and plot scripts.
        self.done(self.program, "reconstruct", "recording.h5", "--recipe", "fixed_focus", "--recipe", "dynamic_focus", "-q")
        table = self.done(self.program, "measure", "fixed_focus.h5", "dynamic_focus.h5")
        self.assertIn("dynamic_focus.h5", table)
        self.done(self.program, "panels", "fixed_focus.h5", "dynamic_focus.h5", "-o", "page.png")
        self.done(self.program, "beam", "--probe", "disc_10mm_3MHz", "--scan", "single_beam", "--map", "beam.png", "-q")
        self.done(self.program, "compare", "fixed_focus.h5", "fixed_focus.h5")  # the tolerances
        self.assertIn("[timing]", self.done(self.program, "import", "--example"))
        for name in ("fixed_focus.png", "dynamic_focus.png", "panels.png", "profiles_shallow.png", "page.png", "beam.png"):
            self.assertEqual((self.work / name).read_bytes()[1:4], b"PNG", name)

    def test_nothing_but_the_program_and_its_files(self):
        found = {str(path.relative_to(self.folder / "prefix")) for path in (self.folder / "prefix").rglob("*") if path.is_file()}
        wanted = {f"share/echoloom/{path.relative_to(SOURCE)}"
                  for folder in ("phantoms", "sim", "recon", "tools/plots") for path in (SOURCE / folder).rglob("*.*")
                  if path.suffix in (".toml", ".gp")}
        self.assertGreater(len(wanted), 80)
        own = {path for path in found if path.startswith("share/echoloom/")}
        self.assertEqual(own, wanted)
        pages = {f"share/man/man1/echoloom-{name}.1" for name in self.commands(self.program)}
        self.assertEqual(found - own - pages, {
            "bin/echoloom", "share/man/man1/echoloom.1", "share/bash-completion/completions/echoloom",
            "share/zsh/site-functions/_echoloom", "share/fish/vendor_completions.d/echoloom.fish",
            "share/doc/echoloom/README.md", "share/doc/echoloom/format.md", "share/doc/echoloom/copyright"})
        self.assertLess(pages, found)

    def page(self, name):
        """A page as a terminal shows it, 200 columns wide so that no name is broken; it must be sound."""
        result = subprocess.run(["groff", "-man", "-ww", "-Tascii", "-P-cbou", "-rLL=200n", self.share / f"man/man1/{name}.1"],
                                capture_output=True, text=True, check=True)
        self.assertEqual(result.stderr, "", name)
        return result.stdout

    def test_pages_name_every_option_of_help(self):
        for command in ["", *self.commands(self.program)]:
            asked = self.done(self.program, *command.split(), "--help")
            page = self.page("-".join(["echoloom", *command.split()]))
            options = help_options(asked)
            self.assertGreaterEqual(len(options), 2, asked)
            self.assertEqual(help_options(re.sub(r"\n +(?=-)", "\n  ", page.split("\nOPTIONS\n")[1])), options)
            # The example lines can be copied.
            for line in re.findall(r"^ +(echoloom \w.*[^\\])$", asked.split("Usage:")[0], re.MULTILINE):
                self.assertIn(line, page)

    def test_pages_have_the_usual_sections(self):
        for command in self.commands(self.program):
            page = self.page(f"echoloom-{command}")
            for section in ("NAME", "SYNOPSIS", "DESCRIPTION", "EXAMPLES", "OPTIONS", "SEE ALSO"):
                self.assertIn(f"\n{section}\n", page, command)
            self.assertRegex(page, rf"\nNAME\n +echoloom-{command} - [a-z]")
        page = self.page("echoloom")
        for part in ("ECHOLOOM_HOME", "EXIT STATUS", "not for diagnosis"):
            self.assertIn(part, page)
        for command in self.commands(self.program):
            self.assertIn(f"echoloom-{command}(1)", page)


if __name__ == "__main__":
    unittest.main()
