"""What we write, opened with h5py and h5dump alone; what h5py alone writes, opened by us.

    check_open_format.py PATH_OF_recording_tool
"""

import re
import shutil
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import h5py
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "reference"))
import acquired_recording

TOOL = sys.argv.pop(1)
FORMATS = {"write": "recording", "write_image": "image"}


def tool(*words):
    return subprocess.run([TOOL, *map(str, words)], capture_output=True, text=True)


def values(path):
    done = tool("values", path)
    if done.returncode != 0:
        raise RuntimeError(done.stderr)
    return dict(line.split(" ", 1) for line in done.stdout.splitlines())


def datasets(file):
    found = {}
    file.visititems(lambda name, item: found.update({name: item}) if isinstance(item, h5py.Dataset) else None)
    return found


class OpenFormat(unittest.TestCase):
    def setUp(self):
        scratch = tempfile.TemporaryDirectory()
        self.addCleanup(scratch.cleanup)
        self.folder = Path(scratch.name)

    def written(self, command):
        path = self.folder / f"{command}.h5"
        self.assertEqual(tool(command, path).returncode, 0)
        return path

    def test_every_dataset_is_described_checksummed_and_plain(self):
        for command in FORMATS:
            with h5py.File(self.written(command), "r") as file:
                self.assertGreater(len(datasets(file)), 30)
                for name, item in datasets(file).items():
                    self.assertTrue(item.fletcher32, name)
                    self.assertIn("units", item.attrs, name)
                    self.assertEqual(len(item.attrs["axes"]), item.ndim, name)
                    self.assertIsNone(h5py.check_vlen_dtype(item.dtype), name)
                    self.assertIsNone(h5py.check_ref_dtype(item.dtype), name)
                    self.assertIn(item.dtype.kind + str(item.dtype.itemsize) if item.dtype.kind != "S" else "S",
                                  {"f4", "f8", "i4", "S"}, name)
                    if item.dtype.kind == "S":
                        # Octave's load fails for a whole group that holds text marked UTF-8; see hdf5_writer.cpp.
                        self.assertEqual(h5py.check_string_dtype(item.dtype).encoding, "ascii", name)
                        item.asstr("utf-8")[:]
                        self.assertEqual(item.id.get_type().get_strpad(), h5py.h5t.STR_NULLTERM, name)

    def test_units_agree_with_names(self):
        """A name that ends in a unit carries the same one as its attribute."""
        endings = {"_Hz": "Hz", "_m": "m", "_s": "s", "_m_s": "m s-1", "_dB": "dB", "_dB_cm_MHz": "dB cm-1 MHz-1"}
        for command in FORMATS:
            with h5py.File(self.written(command), "r") as file:
                for name, item in datasets(file).items():
                    ending = max((e for e in endings if name.endswith(e)), key=len, default=None)
                    self.assertEqual(item.attrs["units"].decode(), endings.get(ending, "1"), name)

    def test_no_object_carries_a_time(self):
        for command in FORMATS:
            with h5py.File(self.written(command), "r") as file:
                for item in [*datasets(file).values()]:
                    self.assertEqual(h5py.h5g.get_objinfo(item.id).mtime, 0)

    def test_one_chunk_per_event(self):
        with h5py.File(self.written("write"), "r") as file:
            rf = file["receive/rf"]
            self.assertEqual(rf.chunks, (1, *rf.shape[1:]))
            self.assertEqual(rf.dtype, np.dtype("<f4"))

    def test_root_says_what_it_is(self):
        for command, kind in FORMATS.items():
            with h5py.File(self.written(command), "r") as file:
                attributes = dict(file.attrs)
                self.assertEqual(attributes["format"].decode(), f"echoloom {kind}")
                self.assertEqual(attributes["format_version"], 1)
                self.assertEqual(attributes["complete"], 1)
                self.assertEqual(attributes["data_order"].decode(), "C")
                self.assertRegex(attributes["program_version"].decode(), r"^\d+\.\d+\.\d+$")
        with h5py.File(self.folder / "write_image.h5", "r") as file:  # NXdata: the plot and its axes
            self.assertEqual(file.attrs["NX_class"].decode(), "NXdata")
            signal = file[file.attrs["signal"]]
            for extent, axis in zip(signal.shape, file.attrs["axes"]):
                self.assertEqual(file[axis].shape, (extent,))

    def test_digest_from_the_file_alone(self):
        path = self.written("write")
        with h5py.File(path, "r") as file:
            data = {name: item[()] for name, item in datasets(file).items()}
            carried = file.attrs["content_digest"].decode()
        for name in ("probe/kind", "probe/baffle"):
            data[name] = data[name][0]
        self.assertEqual(acquired_recording.digest(data), carried)
        self.assertEqual(values(path)["computed"], carried)
        self.assertEqual(values(path)["verified"], "1")

    def test_h5dump_reads_headers_and_values(self):
        for command in FORMATS:
            path = self.written(command)
            for words in (["-H"], []):
                done = subprocess.run(["h5dump", *words, path], capture_output=True, text=True)
                self.assertEqual((done.returncode, done.stderr), (0, ""))
                self.assertIn('GROUP "probe"', done.stdout)

    def test_format_page_names_every_dataset(self):
        root = Path(__file__).parents[2]
        page = (root / "sim/recording/format.md").read_text()
        for command in FORMATS:
            with h5py.File(self.written(command), "r") as file:
                for name in datasets(file):
                    self.assertIn(f"`/{name.removeprefix('recording/')}`", page)

    def run_reader_of_format_page(self, language, program):
        page = (Path(__file__).parents[2] / "sim/recording/format.md").read_text()
        lines = re.search(rf"```{language}\n(.*?)```", page, re.DOTALL).group(1)
        self.assertEqual(tool("write", self.folder / "recording.h5").returncode, 0)
        script = self.folder / "reader"
        script.write_text(lines)
        done = subprocess.run([*program, script], capture_output=True, text=True, cwd=self.folder)
        self.assertEqual(done.returncode, 0, done.stderr)
        with h5py.File(self.folder / "recording.h5", "r") as file:
            return done.stdout.split(), file["probe/element_center_m"][0]

    def test_the_python_reader_of_the_format_page_runs(self):
        words, _ = self.run_reader_of_format_page("python", [sys.executable])
        self.assertEqual(words[:4], ["(3,", "4,", "25)", "41250000.0"])

    @unittest.skipUnless(shutil.which("octave-cli"), "Octave is not installed")
    def test_the_octave_reader_of_the_format_page_runs(self):
        words, center = self.run_reader_of_format_page("octave", ["octave-cli", "--norc"])
        self.assertEqual(words[:3], ["3", "4", "25"])
        np.testing.assert_allclose(np.array(words[-3:], float), center, rtol=1e-3)

    def test_acquired_recordings_are_read(self):
        for kind in ("full_matrix", "lines"):
            data = acquired_recording.acquired(kind)
            for name, writer, expected in (
                    ("complete", acquired_recording.write_complete, data),
                    ("minimal", acquired_recording.write_minimal, acquired_recording.without_optional(data))):
                path = self.folder / f"{kind}_{name}.h5"
                writer(path, kind)
                got = values(path)
                shape = data["receive/rf"].shape
                self.assertEqual([int(got[k]) for k in ("events", "channels", "samples")], list(shape))
                self.assertEqual([got[k] for k in ("points", "regions", "source")], ["0", "0", "0"])
                self.assertEqual(got["computed"], acquired_recording.digest(expected))
                self.assertEqual(got["carried"], got["computed"] if name == "complete" else "none")

    def test_acquired_recordings_reconstruct(self):
        """The brighter point appears where it was put: within a third of a wavelength sideways, a tenth in depth."""
        wavelength = acquired_recording.SOUND_SPEED / acquired_recording.CENTER_HZ
        x, _, z = acquired_recording.POINTS_M[0]
        for kind, sideways in (("full_matrix", wavelength / 3), ("lines", 0.51 * acquired_recording.PITCH_M)):
            path = self.folder / f"{kind}.h5"
            acquired_recording.write_minimal(path, kind)
            done = tool("brightest", path)
            self.assertEqual((done.returncode, done.stderr), (0, ""))
            found_x, found_z = map(float, done.stdout.split())
            self.assertAlmostEqual(found_x, x, delta=sideways, msg=kind)
            self.assertAlmostEqual(found_z, z, delta=wavelength / 10, msg=kind)


if __name__ == "__main__":
    unittest.main(verbosity=1)
