"""What a recording may get wrong, each as one line that names file, dataset and what would be right, and exit code 2.

    check_refusals.py PATH_OF_recording_tool
"""

import struct
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
NAN = float("nan")


class Refusals(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.scratch = tempfile.TemporaryDirectory()
        cls.file = Path(cls.scratch.name) / "acquired.h5"
        cls.good = acquired_recording.acquired("lines")  # 17 events, 8 channels, 24 elements, 512 samples

    @classmethod
    def tearDownClass(cls):
        cls.scratch.cleanup()

    def refused(self, expected, path=None):
        path = path or self.file
        done = subprocess.run([TOOL, "values", path], capture_output=True, text=True)
        self.assertEqual((done.returncode, done.stdout), (2, ""))
        self.assertEqual(done.stderr.removeprefix(f"error: {path}: "), expected + "\n")

    def with_dataset(self, name, value, expected):
        data = dict(self.good)
        if value is None:
            del data[name]
        else:
            data[name] = value
        acquired_recording.write(self.file, data)
        with self.subTest(name=name, expected=expected):
            self.refused(f"/{name}: {expected}")

    def with_value(self, name, index, value, expected):
        array = np.array(self.good[name])
        array[index] = value
        self.with_dataset(name, array, expected)

    def with_attributes(self, attributes, expected):
        acquired_recording.write(self.file, self.good, attributes)
        with self.subTest(**attributes):
            self.refused(expected)

    def edited(self, edit, expected):
        """A change to the file that h5py allows once it is written."""
        acquired_recording.write(self.file, self.good)
        with h5py.File(self.file, "r+") as file:
            edit(file)
        with self.subTest(expected=expected):
            self.refused(expected)

    def test_the_unchanged_file_is_read(self):
        acquired_recording.write(self.file, self.good)
        self.assertEqual(subprocess.run([TOOL, "values", self.file], capture_output=True).returncode, 0)

    def test_marks_of_the_root(self):
        recording = 'give a file whose format is "echoloom recording"'
        self.with_attributes({"format": None}, f"/@format: is missing; {recording}")
        self.with_attributes({"format": "something else"}, f'/@format: is "something else"; {recording}')
        self.with_attributes({"format": 7}, "/@format: give a single string")
        self.with_attributes({"format_version": 2},
                             "/@format_version: written by a newer echoloom: format version 2, this one reads 1")
        self.with_attributes({"format_version": 0}, "/@format_version: is 0; give 1")
        self.with_attributes({"format_version": None}, "/@format_version: is missing; give 1")
        self.with_attributes({"format_version": "1"}, "/@format_version: give a single integer")
        for mark in (None, False, 0):
            self.with_attributes({"complete": mark}, "/@complete: is not 1: the file was never finished; write it again")

    def test_missing_datasets(self):
        for name in self.good:
            if name not in acquired_recording.OPTIONAL and name not in ("transmit/line", "transmit/focus_m"):
                self.with_dataset(name, None, "is missing; a dataset is needed here")

    def test_former_names(self):
        """Files of programs before the names in format.md: one line, for the first dataset that is missing."""
        data = {name.replace("receive/", "channel_data/"): value for name, value in self.good.items()}
        acquired_recording.write(self.file, data)
        self.refused("/receive/element: is missing; a dataset is needed here")
        self.assertGreater(self.good["medium/attenuation_dB_cm_MHz"], 0.0)
        data = dict(self.good)
        data["medium/attenuation_power"] = data.pop("medium/attenuation_exponent")
        acquired_recording.write(self.file, data)
        self.refused("/medium/attenuation_exponent: is missing; a dataset is needed here")

    def test_shapes_that_disagree(self):
        good = self.good
        self.with_dataset("receive/rf", good["receive/rf"][:-1],
                          "has the shape 16 x 8 x 512; give [event, channel, sample] with 17 x 8 x any")
        self.with_dataset("receive/rf", good["receive/rf"][0],
                          "has the shape 8 x 512; give [event, channel, sample] with 17 x 8 x any")
        self.with_dataset("receive/rf", good["receive/rf"][:, :, :0], "holds no samples")
        self.with_dataset("receive/start_time_s", 0.0, "has the shape a single value; give [event] with 17")
        self.with_dataset("receive/element", good["receive/element"][:, :0],
                          "is 17 x 0; give at least one event and one channel")
        self.with_dataset("receive/sampling_rate_Hz", [1e6, 2e6], "has the shape 2; give a single value")
        self.with_dataset("probe/element_normal", np.zeros((3, 3)), "has the shape 3 x 3; give [element, 3] with 24 x 3")
        self.with_dataset("probe/element_center_m", np.zeros((24, 2)),
                          "has the shape 24 x 2; give [element, 3] with any x 3")
        self.with_dataset("transmit/delay_s", good["transmit/delay_s"].T,
                          "has the shape 24 x 17; give [event, element] with 17 x 24")
        self.with_dataset("transmit/kind", ["focused"], "has the shape 1; give [event] with 17")

    def test_values_out_of_range(self):
        rate = "give a number from 1000 to 100000000000, in Hz"
        self.with_dataset("receive/sampling_rate_Hz", NAN, f"is nan; {rate}")
        self.with_dataset("receive/sampling_rate_Hz", -4e7, f"is -40000000; {rate}")
        self.with_dataset("receive/sampling_rate_Hz", 40.0, f"is 40; {rate}")
        self.with_dataset("medium/sound_speed_m_s", 1.54, "is 1.54; give a number from 50 to 20000, in m/s")
        self.with_dataset("probe/center_Hz", 5.0, "is 5; give a number from 1000 to 1000000000, in Hz")
        self.with_dataset("probe/bandwidth_fraction", 60.0, "is 60; give a number more than 0 and at most 2")
        self.with_dataset("probe/elevation_focus_m", -0.02, "is -0.02; give a number more than 0, in m")
        self.with_value("probe/element_normal", (3, 2), 0.5, "row 3 has the length 0.5; give vectors of length 1")
        self.with_value("probe/element_normal", (3, 2), NAN, "entry 3, 2 is nan; give a number")
        self.with_value("probe/element_size_m", (5, 1), 0.0, "entry 5, 1 is 0; give a number more than 0 and at most 10, in m")
        self.with_value("probe/element_center_m", (7, 0), 12.5, "entry 7, 0 is 12.5; give a number from -10 to 10, in m")
        self.with_value("transmit/delay_s", (2, 4), NAN, "entry 2, 4 is nan; give a number from -10 to 10, in s")
        self.with_value("transmit/weight", (1, 0), np.inf, "entry 1, 0 is inf; give a number")
        self.with_value("transmit/direction", (6, 2), -0.5, "row 6 has the length 0.5; give vectors of length 1")
        self.with_value("transmit/focus_m", (4, 1), NAN,
                        "row 4 is neither a place nor NaN throughout; give one or the other")
        self.with_value("receive/start_time_s", 2, NAN, "entry 2 is nan; give a number from -10 to 10, in s")

    def test_indices_and_words(self):
        self.with_value("receive/element", (3, 2), 24, "entry 3, 2 names element 24; give an index from 0 to 23")
        self.with_value("receive/element", (0, 7), -1, "entry 0, 7 names element -1; give an index from 0 to 23")
        self.with_value("receive/element", (0, 7), 2**40, "holds 1099511627776; give integers of 32 bits")
        self.with_dataset("receive/element", self.good["receive/element"] * 1.0,
                          "holds numbers with fractions; give integers")
        self.with_dataset("transmit/kind", ["focussed"] * 17, '"focussed" is not known; give one of focused, plane, element, '
                          'diverging')
        self.with_dataset("probe/baffle", "stiff", '"stiff" is not known; give one of rigid, soft')
        self.with_dataset("medium/dispersive", 7, "is 7; give a whole number from 0 to 1")

    def test_what_only_some_arrays_have(self):
        """Each kind's own datasets, damaged, missing, or beside another kind."""
        plain = self.good
        size = np.tile([6.0e-3, 6.0e-3], (24, 1))
        edges = np.tile([1.0e-3, 3.0e-3], (24, 1))
        head = {"probe/head/axis_to_face_m": 8e-3, "probe/head/rotation_rate_rad_s": 300.0,
                "probe/head/angle_rad": np.linspace(-0.5, 0.5, 17)}
        for kind, more in (("curved", {"probe/radius_m": 60e-3}), ("rows", {"probe/rows": 3}),
                           ("annular", {"probe/element_ring_m": edges, "probe/element_size_m": size} | head)):
            type(self).good = plain | {"probe/kind": kind} | more
            try:
                self.test_the_unchanged_file_is_read()
                name = next(iter(more))
                self.with_dataset(name, None, f'is missing; a probe whose kind is "{kind}" needs it')
                acquired_recording.write(self.file, self.good | {"probe/kind": "phased"})
                self.refused(f'/{name}: belongs to a probe whose kind is "{kind}", and this one is "phased"; leave one out')
                self.of_kind(kind)
            finally:
                type(self).good = plain
        self.with_dataset("probe/kind", "convex", '"convex" is not known; give one of linear, curved, phased, rows, annular')

    def of_kind(self, kind):
        if kind == "curved":
            self.with_dataset("probe/radius_m", -0.06, "is -0.06; give a number from 0 to 10, in m")
            self.with_dataset("probe/radius_m", NAN, "is nan; give a number from 0 to 10, in m")
        elif kind == "rows":
            self.with_dataset("probe/rows", 5, "is 5, and 24 elements cannot be divided into columns of that many")
            self.with_dataset("probe/rows", 0, "is 0; give a whole number from 1 to 24")
            self.with_dataset("probe/rows", 2.5, "holds numbers with fractions; give integers")
        else:
            self.with_value("probe/element_ring_m", (3, 0), 3.5e-3,
                            "row 3 goes from radius 0.0035 to 0.003; give the inner radius, then a larger outer one")
            self.with_value("probe/element_ring_m", (3, 0), NAN, "entry 3, 0 is nan; give a number from 0 to 10, in m")
            self.with_value("probe/element_size_m", (4, 1), 5e-3,
                            "row 4 is 0.006 x 0.005, but the ring's outer diameter is 0.006; give that twice")
            self.with_dataset("probe/head/angle_rad", np.zeros(16), "has the shape 16; give [event] with 17")
            self.with_value("probe/head/angle_rad", 2, 45.0, "entry 2 is 45; give a number from -10 to 10, in radians")
            self.with_dataset("probe/head/rotation_rate_rad_s", NAN, "is nan; give a number from -1000000 to 1000000, in rad/s")
            self.with_dataset("probe/head/axis_to_face_m", None, "is missing; a dataset is needed here")
            self.with_dataset("probe/head/axis_to_face_m", -1e-3, "is -0.001; give a number from 0 to 10, in m")

    def test_depth_of_the_scan(self):
        depth = "give a number more than 0 and at most 10, in m"
        for value in (0.0, -0.1, NAN, 90.0):
            self.with_dataset("transmit/depth_m", value, f"is {str(value).removesuffix('.0')}; {depth}")

    def test_types(self):
        self.with_dataset("transmit/kind", np.zeros(17), "does not hold text; give strings")
        self.with_dataset("medium/sound_speed_m_s", "1540",
                          "does not hold plain numbers; give real numbers (complex values as two datasets)")
        self.with_dataset("receive/rf", self.good["receive/rf"].astype(complex),
                          "does not hold plain numbers; give real numbers (complex values as two datasets)")

    def test_samples_that_are_no_numbers(self):
        self.with_value("receive/rf", (1, 2, 3), NAN,
                        "entry 1, 2, 3 is not a finite number; give finite samples")
        too_large = self.good["receive/rf"].astype(float)
        too_large[16, 7, 511] = 1e39
        self.with_dataset("receive/rf", too_large,
                          "entry 16, 7, 511 is not a finite number; give finite samples")

    def test_truth(self):
        acquired_recording.write(self.file, self.good | {"truth/points_m": np.zeros((2, 3))})
        self.refused("/truth/strength_m: is missing; a dataset is needed here")
        acquired_recording.write(self.file, self.good | {"truth/points_m": np.zeros((2, 3)), "truth/strength_m": [1.0]})
        self.refused("/truth/strength_m: has the shape 1; give [point] with 2")

    def test_sheets(self):
        sheets = {"truth/sheets/name": ["slope"], "truth/sheets/center_m": np.zeros((1, 3)),
                  "truth/sheets/half_size_m": np.full((1, 2), 0.01), "truth/sheets/tilt_rad": [0.7]}
        for name, value, expected in (("tilt_rad", [2.0], "entry 0 is 2; give a number from -1.57 to 1.57, in radians"),
                                      ("tilt_rad", [0.1, 0.2], "has the shape 2; give [sheet] with 1"),
                                      ("half_size_m", np.full((1, 2), -1.0), "entry 0, 0 is -1; give a number from 0 to 10, in m"),
                                      ("half_size_m", np.zeros((1, 3)), "has the shape 1 x 3; give [sheet, 2] with 1 x 2")):
            acquired_recording.write(self.file, self.good | sheets | {f"truth/sheets/{name}": value})
            with self.subTest(name=name):
                self.refused(f"/truth/sheets/{name}: {expected}")
        del sheets["truth/sheets/center_m"]
        acquired_recording.write(self.file, self.good | sheets)
        self.refused("/truth/sheets/center_m: is missing; a dataset is needed here")

    def test_storage(self):
        self.edited(lambda file: (file.pop("probe/center_Hz"), file.update({"probe/center_Hz": h5py.SoftLink("/x")})),
                    "/probe/center_Hz: is a soft or external link; store what it points to")
        self.edited(lambda file: (file.pop("probe"), file.update({"probe": h5py.ExternalLink("other.h5", "/probe")})),
                    "/probe: is a soft or external link; store what it points to")

        def replace(name, **storage):
            def edit(file):
                shape = file[name].shape
                del file[name]
                file.create_dataset(name, shape, "f4", **storage)
            return edit
        self.edited(replace("receive/rf", external=[("outside.bin", 0, h5py.h5f.UNLIMITED)]),
                    "/receive/rf: lies in another file (external storage); store the values themselves")
        self.edited(replace("receive/rf", chunks=(1, 8, 512), compression="lzf"),
                    "/receive/rf: is stored through filter 32000; store it with no filter but Fletcher32, deflate (gzip) "
                    "and shuffle")
        self.edited(replace("receive/rf"), "/receive/rf: is incomplete: its values were never written")
        self.edited(replace("receive/rf", chunks=(1, 8, 512), fletcher32=True),
                    "/receive/rf: is incomplete: 0 of its 17 chunks are in the file")

        def huge(file):
            del file["receive/rf"]
            file.create_dataset("receive/rf", (17, 8, 10**13), "f4", chunks=(1, 8, 512))
        self.edited(huge, "/receive/rf: claims 17 x 8 x 10000000000000 values, more than the file can hold")

        def virtual(file):
            del file["receive/rf"]
            layout = h5py.VirtualLayout((17, 8, 512), "f4")
            layout[0] = h5py.VirtualSource("other.h5", "rf", (8, 512))
            file.create_virtual_dataset("receive/rf", layout)
        self.edited(virtual, "/receive/rf: lies in other files (virtual storage); store the values themselves")

    def test_damaged_chunks(self):
        """Extents and rank of the chunks, changed in the file's bytes; HDF5 itself refuses some in words of its own."""
        acquired_recording.write(self.file, self.good)
        with h5py.File(self.file, "r+") as file:
            samples = file["receive/rf"][...].astype("f4")
            del file["receive/rf"]
            file.create_dataset("receive/rf", data=samples, chunks=(1, 8, 512))
        whole = self.file.read_bytes()
        extents = struct.pack("<4I", 1, 8, 512, 4)  # the last is the size of a value
        self.assertEqual(whole.count(extents), 1)
        place = whole.index(extents)
        rank = place - 9  # before it the address of the chunks, 8 bytes
        self.assertEqual(whole[rank], 4)
        for offset, damage in ((place, bytes(4)), (place + 4, bytes(4)), (place + 8, bytes(4)), (rank, b"\x03"),
                               (rank, b"\x09"), (rank, b"\x0c"), (rank, b"\xff")):
            self.file.write_bytes(whole[:offset] + damage + whole[offset + len(damage):])
            with self.subTest(offset=offset - place, damage=damage):
                done = subprocess.run([TOOL, "values", self.file], capture_output=True, text=True)
                self.assertEqual((done.returncode, done.stdout), (2, ""))
                self.assertRegex(done.stderr, r"\Aerror: [^\n]*: /receive/rf: [^\n]+\n\Z")

    def test_what_is_no_recording_at_all(self):
        folder = Path(self.scratch.name)
        self.refused("no such file", folder / "none.h5")
        self.refused("this is a folder; give a file", folder)
        self.refused("not a regular file; give an HDF5 file", Path("/dev/null"))
        for name, content, expected in (("empty.h5", b"", "the file is empty"),
                                        ("plain.h5", b"echoes\n" * 999, None), ("zero.h5", bytes(5000), None)):
            (folder / name).write_bytes(content)
            self.refused(expected or "not an HDF5 file; give a file that echoloom wrote, or one of the same format",
                         folder / name)
        with h5py.File(folder / "foreign.h5", "w") as file:
            file["temperature"] = np.arange(10.0)
        self.refused('/@format: is missing; give a file whose format is "echoloom recording"', folder / "foreign.h5")


if __name__ == "__main__":
    unittest.main(verbosity=1)
