"""Completion in real shells: what the Tab key makes of a line, and what is offered."""

import os
import pty
import select
import shutil
import subprocess
import time
import unittest

from elsewhere import Elsewhere, environment, install


class Completion(Elsewhere):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.program = install(cls.folder / "prefix")
        cls.share = cls.folder / "prefix/share"
        for name in ("mine.toml", "notes.txt", "old.png"):
            (cls.work / name).touch()
        (cls.work / "pictures").mkdir()

    def environment(self):
        return environment() | {"PATH": f"{self.program.parent}:{os.environ['PATH']}", "TERM": "dumb", "PS1": "> ",
                                "HOME": str(self.folder), "XDG_DATA_DIRS": f"{self.share}:/usr/share"}

    def typed(self, shell, lines, last):
        """What a terminal shows after these lines, \t for the Tab key, until `last` appears."""
        self.assertIsNotNone(shutil.which(shell[0]), f"{shell[0]} is missing; tools/set-up test installs it")
        child, terminal = pty.fork()
        if child == 0:
            os.chdir(self.work)
            os.execvpe(shell[0], shell, self.environment())
        shown = ""
        try:
            for line in [*lines, None]:
                wanted = last if line is None else None
                end = time.monotonic() + (20 if wanted else 0.7)
                while time.monotonic() < end and not (wanted and wanted in shown):
                    if select.select([terminal], [], [], 0.1)[0]:
                        try:
                            shown += os.read(terminal, 65536).decode(errors="replace")
                        except OSError:
                            break
                if line is not None:
                    os.write(terminal, line.encode())
        finally:
            os.kill(child, 9)
            os.waitpid(child, 0)
            os.close(terminal)
        return shown

    def offered(self, *words):
        """What bash offers for the last of the words."""
        quoted = " ".join("'" + word + "'" for word in words)
        script = (f"source {self.share}/bash-completion/completions/echoloom; COMP_WORDS=({quoted}); "
                  f"COMP_CWORD={len(words) - 1}; _echoloom echoloom; printf '%s\\n' \"${{COMPREPLY[@]}}\"")
        result = subprocess.run(["bash", "--norc", "-c", script], cwd=self.work, env=self.environment(), capture_output=True,
                                text=True, check=True)
        self.assertEqual(result.stderr, "")
        return result.stdout.split()

    def names(self, kind):
        """Of the files that were installed."""
        return sorted(path.stem for path in (self.share / "echoloom" / kind).glob("*.toml"))

    def test_bash_offers_commands_and_options(self):
        self.assertEqual(self.offered("echoloom", ""), self.commands(self.program))
        self.assertEqual(self.offered("echoloom", "--v"), ["--version"])
        self.assertEqual(self.offered("echoloom", "simulate", "--dr"), ["--dry-run"])
        self.assertIn("--threads", self.offered("echoloom", "beam", ""))
        self.assertEqual(self.offered("echoloom", "nonsense", ""), [])

    def test_bash_offers_choices(self):
        self.assertEqual(self.offered("echoloom", "beam", "--plane", ""), ["scan", "elevation", "depth"])
        self.assertEqual(self.offered("echoloom", "beam", "--plane", "=", "el"), ["elevation"])
        self.assertEqual(self.offered("echoloom", "beam", "--plane", "="), ["scan", "elevation", "depth"])

    def test_bash_offers_shipped_names_and_files_that_fit(self):
        own = ["mine.toml", "pictures"]
        self.assertEqual(self.offered("echoloom", "simulate", ""), self.names("phantoms") + own)
        self.assertEqual(self.offered("echoloom", "simulate", "single_point", "--probe", ""), self.names("sim/probes") + own)
        self.assertEqual(self.offered("echoloom", "beam", "--scan", "sw"), ["swept_slow", "swept_standing", "swept_wheel"])
        self.assertEqual(self.offered("echoloom", "reconstruct", "x.h5", "--recipe", "ring_f"), ["ring_fixed"])
        self.assertEqual(self.offered("echoloom", "beam", "--map", ""), ["old.png", "pictures"])
        self.assertEqual(self.offered("echoloom", "show", "ann"), ["annular_5MHz"])
        self.assertEqual(self.offered("echoloom", "simulate", "--set", ""), [])

    def test_bash_by_the_tab_key(self):
        shown = self.typed(["bash", "--norc", "-i"], [f"source {self.share}/bash-completion/completions/echoloom\n",
                                                      "echoloom sho\tphased_2\t\n"], "phased_2.5MHz: a probe")
        self.assertIn("phased_2.5MHz: a probe", shown)

    def test_zsh_by_the_tab_key(self):
        start = f"fpath=({self.share}/zsh/site-functions $fpath); autoload -Uz compinit; compinit -u -D\n"
        for line, last in (("echoloom sho\tphased_2\t\n", "phased_2.5MHz: a probe"),
                           ("echoloom beam --probe disc_20\t--sc\tsingle_\t--unf\t\n", "near zone")):
            self.assertIn(last, self.typed(["zsh", "-f", "-i"], [start, line], last))

    def test_fish_offers_the_same(self):
        def offered(line):
            self.assertIsNotNone(shutil.which("fish"), "fish is missing; tools/set-up test installs it")
            result = subprocess.run(["fish", "--no-config", "-c", f"source {self.share}/fish/vendor_completions.d/echoloom.fish; complete -C '{line}'"],
                                    cwd=self.work, env=self.environment(), capture_output=True, text=True, check=True)
            self.assertEqual(result.stderr, "")
            return [each.split("\t")[0] for each in result.stdout.splitlines()]

        self.assertEqual(sorted(offered("echoloom ")), sorted(self.commands(self.program)))
        self.assertEqual(offered("echoloom simulate --dr"), ["--dry-run"])
        self.assertEqual(sorted(offered("echoloom beam --plane ")), ["depth", "elevation", "scan"])
        self.assertLessEqual(set(self.names("sim/probes")), set(offered("echoloom simulate --probe ")))
        self.assertLessEqual(set(self.names("phantoms")), set(offered("echoloom simulate ")))


if __name__ == "__main__":
    unittest.main()
