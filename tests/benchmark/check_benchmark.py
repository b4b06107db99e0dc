"""The benchmark itself, on workloads so small that its figures mean nothing: that every row comes out, in the table and in JSON,
and that the twins agree with the product (the program fails where they do not).

    check_benchmark.py BENCHMARK PROGRAM"""

import json
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

GROUPS = {"roofs", "echoes", "cost", "images", "files", "startup", "memory", "echo_twins", "image_twins"}


class Benchmark(unittest.TestCase):
    benchmark = program = None

    def run_benchmark(self, *words):
        return subprocess.run([self.benchmark, "--echoloom", self.program, *words], capture_output=True, text=True)

    def test_every_group_gives_rows_in_both_forms(self):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "rows.json"
            done = self.run_benchmark("--quick", "--threads", "2", "--json", path)
            self.assertEqual(done.returncode, 0, done.stderr)
            said = json.loads(path.read_text())
        rows = said["rows"]
        self.assertEqual({row["group"] for row in rows}, GROUPS)
        self.assertEqual(said["threads"], 2)
        for row in rows:
            with self.subTest(row=row["stage"] + ", " + row["workload"]):
                if "not measured" not in row["workload"]:
                    self.assertGreater(row["median"], 0.0)
                self.assertLessEqual(row["least"], row["median"])
                self.assertLessEqual(row["median"], row["most"])
                self.assertIn(row["stage"], done.stdout)
                self.assertIn(row["workload"], done.stdout)
        self.assertEqual(sum(row["group"] == "roofs" for row in rows), 12)
        self.assertTrue(any("warning" in line and "small" in line for line in done.stdout.splitlines()))

    def test_groups_are_chosen_by_name(self):
        done = self.run_benchmark("--quick", "files")
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("recording written", done.stdout)
        self.assertNotIn("multiply-add", done.stdout)

    def test_what_is_not_known_is_refused(self):
        for words in (["speed"], ["--threads"], ["--threads", "0"], ["--threads", "two"]):
            done = self.run_benchmark(*words)
            self.assertEqual(done.returncode, 2, words)
            self.assertRegex(done.stderr, "^error: .*\n$")


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    Benchmark.program = sys.argv.pop()
    Benchmark.benchmark = sys.argv.pop()
    unittest.main(verbosity=2)
