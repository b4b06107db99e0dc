"""Writing that cannot end well: a full disk, a file size limit, a killed program. Nothing partial is ever left under the
final name, and only a kill that cannot be caught leaves a temporary.

    check_write_failures.py PATH_OF_recording_tool
"""

import os
import resource
import signal
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

TOOL = sys.argv.pop(1)


def limit_file_size(max_bytes):
    def apply():
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # so that writing fails (EFBIG) instead of killing
        resource.setrlimit(resource.RLIMIT_FSIZE, (max_bytes, max_bytes))
    return apply


def tool(command, path, before=None):
    return subprocess.run([TOOL, command, path], capture_output=True, text=True, preexec_fn=before, timeout=60)


class WriteFailures(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.folder = Path(scratch.name)
        self.path = self.folder / "out.h5"

    def names(self):
        return sorted(entry.name for entry in self.folder.iterdir())

    def expect_refusal(self, done, reason, path):
        self.assertEqual((done.returncode, done.stdout), (3, ""), done.stderr)
        self.assertRegex(done.stderr, rf"^error: {path}: (/\S+: )?cannot write: {reason}[^\n]*\n$")

    def test_a_size_limit_anywhere_in_the_file(self):
        for command in ("write", "write_image", "write_large"):
            self.assertEqual(tool(command, self.path).returncode, 0)
            size = self.path.stat().st_size
            self.path.unlink()
            for most in [0, 1, 96, *range(500, size, size // 12 + 1), size - 1]:
                with self.subTest(command=command, most=most, size=size):
                    self.expect_refusal(tool(command, self.path, limit_file_size(most)), "File too large", self.path)
                    self.assertEqual(self.names(), [])

    def test_an_older_file_stays(self):
        self.path.write_text("older")
        self.expect_refusal(tool("write_large", self.path, limit_file_size(100_000)), "File too large", self.path)
        self.assertEqual((self.names(), self.path.read_text()), (["out.h5"], "older"))

    def test_a_full_disk(self):
        disk = self.folder / "disk"
        disk.mkdir()
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", disk], capture_output=True)
        if mounted.returncode != 0:
            self.skipTest("a small disk cannot be mounted here")
        try:
            # The size is known to be too large before the work starts.
            done = tool("write_large", disk / "out.h5")
            self.assertEqual(done.returncode, 3)
            self.assertRegex(done.stderr, r"out\.h5: the recording takes 11\.4 MiB, and the disk has [34](\.\d)? MiB left; "
                                          "free some space or choose a folder on another disk\n$")
            (disk / "ballast").write_bytes(bytes(4 * 2**20 - 16384))
            self.expect_refusal(tool("write", disk / "out.h5"), "No space left on device", disk / "out.h5")
            self.expect_refusal(tool("write_image", disk / "out.h5"), "No space left on device", disk / "out.h5")
            self.assertEqual(os.listdir(disk), ["ballast"])
        finally:
            subprocess.run(["umount", disk], check=True)

    def test_a_folder_that_cannot_be_written_to(self):
        (self.folder / "file").write_text("no folder")
        done = tool("write", self.folder / "file" / "out.h5")
        self.assertEqual((done.returncode, done.stdout), (3, ""))
        self.assertRegex(done.stderr, r"^error: [^\n]*\n$")
        self.assertEqual(self.names(), ["file"])

    def test_killed_while_writing(self):
        for events in (0, 1, 5):
            with subprocess.Popen([TOOL, "write_on", self.path], stdout=subprocess.PIPE, text=True) as writer:
                for _ in range(events):
                    writer.stdout.readline()
                writer.kill()
            self.assertFalse(self.path.exists())
        for name in self.names():
            self.assertRegex(name, r"^out\.h5\.part-")
        self.assertEqual(tool("write", self.path).returncode, 0)  # what was left does not hinder the next run


if __name__ == "__main__":
    unittest.main(verbosity=1)
