"""Programs put elsewhere, and run as on a machine that has neither the sources nor the build folder."""

import functools
import os
import re
import subprocess
import tempfile
import unittest
from pathlib import Path

SOURCE = Path(os.environ["ECHOLOOM_SOURCE"])
BUILD = Path(os.environ["ECHOLOOM_BUILD"])
INSTALLED = Path(os.environ["ECHOLOOM_INSTALLED_HOME"])  # where the build would be installed if nothing else is said

# The build folder first: it may lie in the sources, and is out of reach once these are hidden.
HIDE = 'for folder in "$1" "$2" "$3"; do [ ! -d "$folder" ] || mount -t tmpfs none "$folder" || exit 99; done; shift 3; exec "$@"'


@functools.cache
def namespace():
    """Words that run a command with the folders hidden; empty where the machine does not permit that."""
    for ways in (["--mount"], ["--mount", "--map-root-user"]):
        words = ["unshare", *ways, "sh", "-c", HIDE, "sh", str(BUILD), str(SOURCE), str(INSTALLED)]
        if subprocess.run([*words, "test", "!", "-e", SOURCE / "CMakeLists.txt"], cwd="/", capture_output=True).returncode == 0:
            return words
    return []


def forget(program):
    """Where folders cannot be hidden: the program itself is made to look for them where nothing is."""
    data = program.read_bytes()
    for folder in {str(SOURCE), str(BUILD), str(INSTALLED)}:
        data = data.replace(folder.encode(), b"/nowhere".ljust(len(folder), b"_")[: len(folder)])
    program.write_bytes(data)


def install(prefix):
    subprocess.run([os.environ["CMAKE"], "--install", BUILD, "--prefix", prefix], check=True, capture_output=True)
    program = prefix / "bin/echoloom"
    if not namespace():
        forget(program)
    return program


def environment():
    return {name: value for name, value in os.environ.items() if not name.startswith("ECHOLOOM")} | {"LC_ALL": "C.UTF-8"}


class Elsewhere(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        scratch = tempfile.TemporaryDirectory(prefix="echoloom-install-")
        cls.addClassCleanup(scratch.cleanup)
        cls.folder = Path(scratch.name)
        cls.work = cls.folder / "work"
        cls.work.mkdir()

    def run_hidden(self, *words, **options):
        return subprocess.run([*namespace(), *map(str, words)], cwd=self.work, env=environment(), capture_output=True,
                              text=True, timeout=120, **options)

    def done(self, *words):
        result = self.run_hidden(*words)
        self.assertEqual(result.returncode, 0, result.stderr)
        return result.stdout

    def commands(self, program):
        """Names of the subcommands, from --help."""
        names = re.findall(r"^  ([a-z]+) {2,}[A-Z]", self.done(program, "--help"), re.MULTILINE)
        self.assertGreater(len(names), 5)
        return names

    def shipped(self, program):
        """What lists the shipped files."""
        return self.done(program, "list")
