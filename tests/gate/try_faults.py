"""Proves that the gate sees what it must and keeps still where it must: try_faults.py BUILD [NAME ...]

Each fault of faults.toml is applied to a copy of its source, which is compiled with the build's own flags and linked in
front of the build's own libraries; the gate then runs with it. The product is never touched. Without names: all faults,
all harmless changes and the smallest delay; with names: these alone ("delay" for the last)."""

import json
import os
import shlex
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

HERE = Path(__file__).resolve().parent
SOURCE = HERE.parents[1]
SAME, DIFFERENT = 0, 1


class Bench:
    def __init__(self, build, scratch):
        self.build, self.scratch = Path(build).resolve(), Path(scratch)
        self.gate = self.build / "tests/gate/echoloom_gate"
        self.recordings = self.scratch / "recordings"
        commands = json.loads((self.build / "compile_commands.json").read_text())
        self.compile_commands = {str(Path(c["file"]).relative_to(SOURCE)): c for c in commands
                                 if Path(c["file"]).is_relative_to(SOURCE)}
        listed = subprocess.run(["ninja", "-C", str(self.build), "-t", "commands", "echoloom_gate"], text=True,
                                capture_output=True, check=True).stdout.splitlines()
        self.link_command = next(line for line in reversed(listed) if " -o tests/gate/echoloom_gate" in line)

    def patched(self, change, folder):
        """The sources to compile and the folder in front of the others, after the change."""
        units = change.get("units", [change.get("file")])
        if "file" in change:
            text = (SOURCE / change["file"]).read_text()
            for old, new in [[change["old"], change["new"]], *change.get("more", [])]:
                if text.count(old) != 1:
                    sys.exit(f"error: {change['name']}: its text stands {text.count(old)} times in {change['file']}, "
                             f"not once: {old!r}; write the fault anew in tests/gate/faults.toml")
                text = text.replace(old, new)
            target = folder / change["file"]
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(change.get("include", "") + "\n" + text)
        for unit in units:
            target = folder / unit
            target.parent.mkdir(parents=True, exist_ok=True)
            if not target.exists():
                target.write_text((SOURCE / unit).read_text())
        return units

    def compiled(self, unit, folder, flags):
        """One object, by the build's own command with another source and another output."""
        command = self.compile_commands[unit]
        words = [w for w in shlex.split(command["command"]) if w not in ("-Werror", "ccache") and "cmake_pch" not in w]
        words = [w for w in words if w not in ("-Winvalid-pch", "-include")]
        output = folder / (unit.replace("/", "_") + ".o")
        words[words.index("-o") + 1] = str(output)
        words[words.index("-c") + 1] = str(folder / unit)
        words[1:1] = [f"-I{folder}"]
        done = subprocess.run([*words, *flags, "-w"], cwd=command["directory"], capture_output=True, text=True)
        if done.returncode != 0:
            sys.exit(f"error: {unit} does not compile with the change:\n{done.stderr[-3000:]}")
        return output

    def built(self, change, folder):
        """A gate with the change in it."""
        objects = [self.compiled(unit, folder, change.get("flags", [])) for unit in self.patched(change, folder)]
        program = folder / "gate"
        words = shlex.split(self.link_command.removeprefix(": && ").removesuffix(" && :"))
        words[words.index("-o") + 1] = str(program)
        first_library = next(n for n, word in enumerate(words) if word.endswith(".a"))
        words[first_library:first_library] = map(str, objects)
        subprocess.run(words, cwd=self.build, check=True)
        return program

    def run(self, program, words, recordings=None, environment=None):
        return subprocess.run([str(program), "--pictures", str(self.scratch / "pictures"),
                               *(["--recordings", str(recordings)] if recordings else []), *words],
                              capture_output=True, text=True, env={**os.environ, **(environment or {})})

    def tried(self, change, words=(), recordings=None, environment=None):
        with tempfile.TemporaryDirectory(dir=self.scratch) as folder:
            program = self.built(change, Path(folder)) if "file" in change or "flags" in change else self.gate
            return self.run(program, [*words, *change.get("gate", [])], recordings, environment)


def what_failed(output):
    """The names of numbers beyond tolerance, and of the first image that has them."""
    failed = [line.split()[0] for line in output.splitlines() if " DIFFERENT" in line or " WORSE" in line
              or " BETTER" in line]
    numbers = [name for name in dict.fromkeys(failed) if "." in name and not name[0].isupper()]
    return ", ".join(numbers[:4])


def try_faults(bench, faults):
    missed = []
    for fault in faults:
        done = bench.tried(fault, [*fault.get("where", []), "--until-first"], bench.recordings)
        seen = done.returncode == DIFFERENT
        print(f"{'seen' if seen else 'MISSED':7} {fault['name']:32} {fault['what']}"
              + (f"\n{'':8}by {what_failed(done.stdout)}" if seen else done.stdout + done.stderr), flush=True)
        if not seen:
            missed.append(fault["name"])
    if faults:
        print(f"\n{len(faults) - len(missed)} of {len(faults)} faults seen\n")
    return missed


def try_harmless(bench, changes):
    alarms = []
    for change in changes:
        done = bench.tried(change, [], None if change.get("anew") else bench.recordings)
        quiet = done.returncode == SAME
        verdicts = [line.split()[1] for line in done.stdout.splitlines() if line.endswith(" s")]
        said = f"{verdicts.count('IDENTICAL')} identical, {verdicts.count('SAME')} within tolerance"
        print(f"{'quiet' if quiet else 'ALARM':7} {change['name']:32} {change['what']} ({said})"
              + ("" if quiet else "\n" + done.stdout + done.stderr), flush=True)
        if not quiet:
            alarms.append(change["name"])
    if changes:
        print(f"\n{len(changes) - len(alarms)} of {len(changes)} harmless changes pass\n")
    return alarms


def try_delays(bench, delay):
    """The smallest delay seen where echoes are the accepted ones, and where another engine made them."""
    failed = []
    other = bench.scratch / "other_recordings"
    bench.run(bench.gate, [*delay["where"], "--engine-tolerance", "1e-4"], other)
    with tempfile.TemporaryDirectory(dir=bench.scratch) as folder:
        program = bench.built({"name": "delay", **delay}, Path(folder))
        for words, recordings in (("echoes as accepted", bench.recordings), ("echoes of another engine", other)):
            none = bench.run(program, delay["where"], recordings, {"ECHOLOOM_TEST_PERIODS": "0"})
            seen = [n for n in delay["one_over"] if bench.run(program, delay["where"], recordings, {
                "ECHOLOOM_TEST_PERIODS": repr(1.0 / n)}).returncode == DIFFERENT]
            print(f"delay   {words}: smallest seen 1/{max(seen, default=0)} of a period "
                  f"(goal 1/{delay['goal_one_over']}); of {delay['one_over']} seen {seen}", flush=True)
            if none.returncode != SAME or max(seen, default=0) < delay["goal_one_over"]:
                failed.append("delay: " + words)
    return failed


def main():
    build, names = sys.argv[1], sys.argv[2:]
    plan = tomllib.loads((HERE / "faults.toml").read_text())
    chosen = lambda changes: [c for c in changes if not names or c["name"] in names]
    known = {c["name"] for c in plan["fault"] + plan["harmless"]} | {"delay"}
    if not set(names) <= known:
        sys.exit(f"error: not in tests/gate/faults.toml: {', '.join(sorted(set(names) - known))}")
    with tempfile.TemporaryDirectory(prefix="echoloom-faults-") as scratch:
        bench = Bench(build, scratch)
        wanted = sorted({where for c in chosen(plan["fault"]) for where in c.get("where", [])}) if names else []
        first = bench.run(bench.gate, wanted, bench.recordings)
        if first.returncode != SAME:
            sys.exit("error: the gate fails without any fault; mend that first, or accept a new baseline\n"
                     + first.stdout + first.stderr)
        wrong = try_faults(bench, chosen(plan["fault"])) + try_harmless(bench, chosen(plan["harmless"]))
        if not names or "delay" in names:
            wrong += try_delays(bench, plan["delay"])
    if wrong:
        sys.exit("error: " + ", ".join(wrong))


if __name__ == "__main__":
    main()
