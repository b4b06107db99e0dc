"""A checkout that was moved works, and a program without its files says where it looked."""

import shutil
import unittest

from elsewhere import BUILD, Elsewhere, SOURCE, forget, namespace


class Home(Elsewhere):
    def program_in(self, folder):
        folder.mkdir(parents=True)
        program = folder / "echoloom"
        shutil.copy2(BUILD / "echoloom", program)
        if not namespace():
            forget(program)
        return program

    def checkout(self, name):
        for part in ("phantoms", "sim", "recon", "tools"):
            shutil.copytree(SOURCE / part, self.folder / name / part)
        return self.folder / name

    def test_a_moved_checkout(self):
        moved = self.checkout("moved")
        program = self.program_in(moved / "build-release")
        self.assertIn(f"probes, in {moved}/sim/probes\n  annular_5MHz ", self.shipped(program))
        self.done(program, "simulate", "single_point", "--probe", "linear_5MHz", "--scan", "plane_wave_single", "--dry-run")
        # A link to it is as good.
        link = self.folder / "link"
        link.symlink_to(program)
        self.assertIn(f"probes, in {moved}/sim/probes\n", self.shipped(link))

    def test_a_chosen_home_comes_first(self):
        moved = self.checkout("first")
        program = self.program_in(moved / "build-release")
        chosen = self.checkout("chosen")
        self.assertIn(f"probes, in {chosen}/sim/probes\n", self.done("env", f"ECHOLOOM_HOME={chosen}", program, "list"))
        shutil.rmtree(chosen / "sim/scans")
        for words in (["list"], ["simulate", "single_point", "--probe", "linear_5MHz", "--scan", "fan_lines"]):
            result = self.run_hidden("env", f"ECHOLOOM_HOME={chosen}", program, *words)
            self.assertEqual((result.returncode, result.stdout), (3, ""))
            self.assertEqual(result.stderr, f"error: there is no scan in {chosen}/sim/scans; ECHOLOOM_HOME is set to {chosen}; "
                                            "set it to a folder that holds all files of the program, or unset it\n")

    def test_no_files_at_all(self):
        program = self.program_in(self.folder / "alone/bin")
        for words in (["list"], ["simulate", "single_point", "--probe", "linear_5MHz", "--scan", "fan_lines"],
                      ["import", "--example"]):
            result = self.run_hidden(program, *words)
            self.assertEqual((result.returncode, result.stdout), (3, ""))
            self.assertRegex(result.stderr, rf"^error: the files that come with the program are missing; looked in {self.folder}"
                                            rf"/alone/share/echoloom, {self.folder}/alone, \S+, \S+; install the program anew, "
                                            r"or set ECHOLOOM_HOME to .*\n$")


if __name__ == "__main__":
    unittest.main()
