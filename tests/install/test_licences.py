"""tools/install/copyright names all that a built program contains or asks for, and nothing else."""

import os
import re
import subprocess
import unittest
from pathlib import Path

from elsewhere import BUILD, SOURCE

# Headers of these Debian packages only declare what the C library and the kernel do.
DECLARATIONS = {"libc6-dev", "linux-libc-dev", "libcrypt-dev"}


def paragraphs():
    """Files patterns of each paragraph of the machine-readable format; the first one is the sources' own."""
    text = (SOURCE / "tools/install/copyright").read_text()
    return [re.search(r"^Files:((?:.*\n )*.*)", part, re.MULTILINE)[1].split()
            for part in text.split("\n\n") if part.startswith("Files:")]


def fits(pattern, name):
    """* stands for any part of one name, at the end of a path for all below it."""
    below = pattern.endswith("/*")
    parts = [re.escape(part) for part in pattern.removesuffix("/*").split("*")]
    return re.fullmatch("[^/]*".join(parts) + ("/.*" if below else ""), name) is not None


def ninja(*words):
    return subprocess.run(["ninja", "-C", BUILD, *words], capture_output=True, text=True, check=True).stdout


def archives():
    """Static libraries that are not our own, from the line that links the program."""
    line = next(line for line in ninja("-t", "commands", "echoloom").splitlines() if " -o echoloom " in line)
    found = [Path(word) for word in line.split() if word.startswith("/") and word.endswith(".a")]
    return {path.name for path in found if BUILD not in path.parents}


def shared():
    text = subprocess.run(["ldd", BUILD / "echoloom"], capture_output=True, text=True, check=True).stdout
    return {Path(line.split()[0]).name for line in text.splitlines() if "linux-vdso" not in line}


def headers():
    """All that the product's objects were compiled from, sources and declarations of the system aside."""
    found = set()
    product = False
    for line in ninja("-t", "deps").splitlines():
        if not line.startswith(" "):
            product = line.startswith(("sim/", "recon/", "phantoms/", "tools/cli/", "CMakeFiles/"))
        elif product and line.strip().startswith("/") and SOURCE not in Path(line.strip()).parents:
            found.add(os.path.normpath(line.strip()))
    owners = subprocess.run(["dpkg-query", "--search", *found], capture_output=True, text=True).stdout
    for line in owners.splitlines():
        package, path = line.rsplit(": ", 1)
        if package.split(":")[0] in DECLARATIONS:
            found.discard(path)
    return found


class Licences(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.named = paragraphs()[1:]
        cls.contained = archives() | shared() | headers()

    def test_all_that_is_contained_is_named(self):
        self.assertGreater(len(shared()), 8)
        self.assertGreater(len(self.contained), 100)
        patterns = [pattern for each in self.named for pattern in each]
        self.assertEqual({name for name in self.contained if not any(fits(pattern, name) for pattern in patterns)}, set())

    def test_nothing_else_is_named(self):
        for patterns in self.named:
            self.assertTrue(any(fits(pattern, name) for pattern in patterns for name in self.contained), patterns)

    def test_what_nobody_named_would_be_found(self):
        patterns = [pattern for each in self.named for pattern in each]
        for name in ("libjpeg.so.62", "libjpeg.a", "/usr/include/boost/any.hpp", "/usr/include/jpeglib.h"):
            self.assertFalse(any(fits(pattern, name) for pattern in patterns), name)

    def test_every_licence_is_written_out(self):
        text = (SOURCE / "tools/install/copyright").read_text()
        used = {name for part in text.split("\n\n") if part.startswith("Files:")
                for name in re.findall(r"^License: (.+)$", part, re.MULTILINE)}
        written = set(re.findall(r"(?:^|\n\n)License: (.+)\n .", text))
        self.assertEqual(used, written)


if __name__ == "__main__":
    unittest.main()
