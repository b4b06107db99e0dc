"""What the README tells people to type works."""

import re
import subprocess
import unittest
from pathlib import Path

from bench import Bench

README = (Path(__file__).parents[2] / "README.md").read_text()


def commands():
    """Every `echoloom ...` line of the README's blocks, joined where it goes on and cut at shell words."""
    text = "\n".join(re.findall(r"```\n(.*?)```", README, re.DOTALL)).replace("\\\n", " ")
    found = [re.split(r"\s[|#]|\s>", line.split("||")[-1])[0] for line in text.splitlines()]
    return [line.split()[1:] for line in found if line.strip().startswith("echoloom ")]


class Readme(Bench):
    def test_simulations_can_start(self):
        simulations = [words for words in commands() if words[0] == "simulate"]
        self.assertGreaterEqual(len(simulations), 4)
        for words in simulations:
            self.assertRegex(self.done(*words, "--dry-run"), r"events of .* memory")

    def test_shipped_names_exist(self):
        shipped = self.done("list")
        for words in commands():
            for option, name in zip(words, words[1:]):
                if option in ("--recipe", "--probe", "--scan"):
                    self.assertRegex(shipped, rf"\n  {name} ")

    def test_python_reads_a_recording(self):
        self.simulate("block.h5")
        block = re.search(r"```python\n(.*?)```", README, re.DOTALL).group(1)
        check = "\nassert rf.shape == (13, 16, len(time_s)) and elements_m.shape == (24, 3)\nassert abs(time_s[1] - time_s[0] - 25e-9) < 1e-15\n"
        subprocess.run(["/usr/bin/python3", "-c", block + check], cwd=self.folder, check=True)

    def test_cpp_reads_a_recording(self):
        self.simulate("block.h5")
        block = re.search(r"```cpp\n(.*?)```", README, re.DOTALL).group(1)
        self.write("read.cpp", "#include <hdf5.h>\n#include <hdf5_hl.h>\n#include <vector>\nint main() {\n" + block +
                   "return size[0] == 13 && size[1] == 16 && rf.size() == size[0] * size[1] * size[2] && rf.back() != 0.0F ? 0 : 1;\n}\n")
        flags = subprocess.run(["pkg-config", "--cflags", "--libs", "hdf5"], capture_output=True, text=True, check=True).stdout
        subprocess.run(["g++", "read.cpp", *flags.split(), "-lhdf5_hl", "-o", "read"], cwd=self.folder, check=True)
        subprocess.run([self.folder / "read"], cwd=self.folder, check=True)


if __name__ == "__main__":
    unittest.main()
