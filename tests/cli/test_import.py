"""Acquired data: NumPy, MATLAB and raw files written by NumPy, SciPy and h5py become the recording they came from, and
the report names what was done to them."""

import json
import random
import unittest

import h5py
import numpy as np
import scipy.io

from bench import Bench

SOUND_SPEED = 1540.0
POINT_MM = (0.0, 0.0, 8.0)

# One point well off the middle, so that mirror images can be told apart; loss and lens left out.
TARGET = """\
[medium]
sound_speed_m_s = 1540.0

[[point]]
position_mm = [2.0, 0.0, 12.0]
strength_dB = 0.0
"""


class Import(Bench):
    def setUp(self):
        super().setUp()
        self.write("target.toml", TARGET)
        self.change("probe.toml", "elevation_focus_mm = 20.0\n", "")
        self.done("simulate", "./target.toml", "--probe", "./probe.toml", "--scan", "./planes.toml", "-o", "truth.h5", "-q")
        with h5py.File(self.folder / "truth.h5") as file:
            self.rf = file["receive/rf"][...]                   # [3, 24, sample]
            self.start_s = file["receive/start_time_s"][...]
            self.delay_s = file["transmit/delay_s"][...]
        self.counts = np.round(self.rf / np.abs(self.rf).max() * 2000.0).astype(np.int16)

    def bench(self, samples, order="event channel sample", zero="front", first_us=None, pulse_us=0.0, transmit='scan = "planes.toml"',
              tail="", top=""):
        first_us = list(self.start_s * 1e6) if first_us is None else list(first_us)
        self.write("acquisition.toml", f"""\
probe = "probe.toml"
{transmit if transmit.startswith("scan") else ""}
{top}
[samples]
{samples}
order = "{order}"
[timing]
sampling_MHz = 40.0
zero = "{zero}"
first_sample_us = {first_us}
pulse_center_us = {pulse_us}
[medium]
sound_speed_m_s = {SOUND_SPEED}
{"" if transmit.startswith("scan") else transmit}
{tail}
""")

    def imported(self, *more):
        self.done("import", "acquisition.toml", "-o", "recording.h5", "--force", "-q", *more)
        with h5py.File(self.folder / "recording.h5") as file:
            return {name: file[name][...] for name in ("receive/rf", "receive/start_time_s", "receive/element",
                                                       "transmit/delay_s", "transmit/weight", "transmit/direction")}

    def report(self, *more):
        return json.loads(self.done("import", "acquisition.toml", "--dry-run", "--json", *more))

    def holds(self, rf, atol=0.0):
        found = self.imported()
        np.testing.assert_array_equal(found["receive/rf"], rf.astype(np.float32))
        np.testing.assert_allclose(found["receive/start_time_s"], self.start_s, rtol=0, atol=1e-15 + atol)
        np.testing.assert_allclose(found["transmit/delay_s"], self.delay_s, rtol=0, atol=1e-20 + atol)
        np.testing.assert_array_equal(found["receive/element"], np.tile(np.arange(24), (3, 1)))

    # ---- formats

    def test_npy(self):
        for array in (self.counts, self.counts.astype(">i2"), self.counts.astype(np.int32), self.rf, self.rf.astype(">f4"),
                      self.rf.astype(np.float64), (self.counts // 20).astype(np.int8), np.asfortranarray(self.rf)):
            with self.subTest(type=array.dtype.str, fortran=np.isfortran(array)):
                np.save(self.folder / "shot.npy", array)
                self.bench('file = "shot.npy"')
                self.holds(array)
        for version in ((2, 0), (3, 0)):
            with open(self.folder / "shot.npy", "wb") as file:
                np.lib.format.write_array(file, self.rf, version=version)
            self.holds(self.rf)

    def test_every_order(self):
        axes = dict(event=0, channel=1, sample=2)
        for order in ("event channel sample", "event, sample, channel", "channel event sample", "sample channel event"):
            with self.subTest(order=order):
                np.save(self.folder / "shot.npy", self.counts.transpose([axes[word] for word in order.replace(",", "").split()]))
                self.bench('file = "shot.npy"', order)
                self.holds(self.counts)

    def test_matlab(self):
        for name, array, options in (("compressed", self.counts, dict(do_compression=True)), ("plain", self.counts, {}),
                                     ("double", self.rf.astype(float), {}), ("single", self.rf, dict(do_compression=True)),
                                     ("level 4", self.rf[0].astype(float), dict(format="4"))):
            with self.subTest(name):
                # As MATLAB would hold them: samples first.
                turned = array.transpose() if array.ndim == 2 else array.transpose(2, 1, 0)
                scipy.io.savemat(self.folder / "shot.mat", {"rf": turned, "unused": np.eye(2)}, **options)
                if array.ndim == 3:
                    self.bench('file = "shot.mat"\nvariable = "rf"', "sample channel event")
                    self.holds(array)
                else:
                    self.bench('file = "shot.mat"\nvariable = "rf"', "sample channel", first_us=[self.start_s[0] * 1e6],
                               transmit='scan = "one.toml"')
                    self.write("one.toml", (self.folder / "planes.toml").read_text().replace("[-5.0, 0.0, 5.0]", "[-5.0]"))
                    np.testing.assert_array_equal(self.imported()["receive/rf"][0], array.astype(np.float32))

    def test_raw(self):
        for kind, array in (("int16", self.counts), ("float32", self.rf), ("float64", self.rf.astype(float))):
            for order, letter in (("little", "<"), ("big", ">")):
                with self.subTest(kind=kind, order=order):
                    bytes_ = array.astype(array.dtype.newbyteorder(letter)).tobytes()
                    (self.folder / "shot.bin").write_bytes(b"head" * 3 + bytes_)
                    self.bench(f'file = "shot.bin"\ntype = "{kind}"\nshape = {list(array.shape)}\nbyte_order = "{order}"\n'
                               "header_bytes = 12")
                    self.holds(array)

    def test_a_scan_read_back_has_its_own_digest(self):
        """With the same samples, probe, scan and times the recording is the simulator's own, to the bit."""
        np.save(self.folder / "shot.npy", self.rf)
        for start in range(3):  # times in decimals of a microsecond that come back as they were
            self.assertLess(abs(float(repr(self.start_s[start] * 1e6)) * 1e-6 - self.start_s[start]), 1e-20)
        self.bench('file = "shot.npy"')
        self.imported()
        with h5py.File(self.folder / "recording.h5") as mine, h5py.File(self.folder / "truth.h5") as first:
            for group in ("receive", "probe", "transmit", "medium"):
                for name, value in first[group].items():
                    with self.subTest(name):
                        if name == "start_time_s":
                            np.testing.assert_allclose(mine[group][name][...], value[...], rtol=1e-15)
                        else:
                            np.testing.assert_array_equal(mine[group][name][...], value[...])
        self.assertIn("have this digest", self.done("show", "recording.h5", "--verify"))

    # ---- events and time

    def own_events(self, keys=""):
        return "".join(f'[[event]]\nkind = "plane"\nangle_deg = {angle}\n{keys}\n' for angle in (-5.0, 0.0, 5.0))

    def test_own_delays(self):
        """Delays that count from the bench's trigger, by file and by list; the trigger is 3 us before the first firing."""
        np.save(self.folder / "shot.npy", self.rf)
        own_us = (self.delay_s - self.delay_s.min(axis=1, keepdims=True)) * 1e6 + 3.0
        trigger_us = (self.start_s - self.delay_s.min(axis=1)) * 1e6 + 3.0
        np.save(self.folder / "delays.npy", own_us)
        scipy.io.savemat(self.folder / "delays.mat", {"tx": own_us, "weights": np.ones((3, 24))})
        events = self.own_events()
        for top in ('delays_file = "delays.npy"', 'delays_file = "delays.mat"\ndelays_variable = "tx"\n'
                    'weights_file = "delays.mat"\nweights_variable = "weights"'):
            self.bench('file = "shot.npy"', zero="delays", first_us=trigger_us, transmit=events, top=top)
            self.holds(self.rf, 1e-13)
            self.bench('file = "shot.npy"', zero="first_firing", first_us=trigger_us - 3.0, transmit=events, top=top)
            self.holds(self.rf, 1e-13)
            self.assertLess(self.report()["delay_misfit_s"], 1e-12)
        lists = "".join(f'[[event]]\nkind = "plane"\nangle_deg = {angle}\ndelays_us = {list(row)}\nweights = {[1] * 24}\n'
                        for angle, row in zip((-5.0, 0.0, 5.0), own_us))
        self.bench('file = "shot.npy"', zero="delays", first_us=trigger_us, transmit=lists)
        self.holds(self.rf, 1e-13)

    def test_scan_from_its_first_firing(self):
        np.save(self.folder / "shot.npy", self.rf)
        self.bench('file = "shot.npy"', zero="first_firing", pulse_us=0.3,
                   first_us=(self.start_s - self.delay_s.min(axis=1)) * 1e6 + 0.3)
        self.holds(self.rf, 1e-13)

    def test_single_elements_and_foci(self):
        np.save(self.folder / "shot.npy", self.rf[:1, :, :])
        one = dict(first_us=[0.0], zero="front")
        self.bench('file = "shot.npy"', transmit='[[event]]\nkind = "element"\nelement = 7\n', **one)
        found = self.imported()
        np.testing.assert_array_equal(found["transmit/weight"][0], np.eye(24)[7])
        for keys, focus in (('kind = "focused"\norigin_mm = [1.0, 0.0, 0.0]\nfocus_mm = [1.0, 0.0, 10.0]', (1e-3, 0, 10e-3)),
                            ('kind = "diverging"\nsource_mm = [0.0, 0.0, -5.0]', (0, 0, -5e-3))):
            self.bench('file = "shot.npy"', transmit=f"[[event]]\n{keys}\ndelays_us = {[0.0] * 24}\n", **one)
            self.imported()
            with h5py.File(self.folder / "recording.h5") as file:
                np.testing.assert_allclose(file["transmit/focus_m"][0], focus, atol=1e-15)
                np.testing.assert_allclose(file["transmit/direction"][0], (0, 0, 1), atol=1e-15)

    def test_json_names_what_was_written(self):
        np.save(self.folder / "shot.npy", self.rf)
        self.bench('file = "shot.npy"')
        report = json.loads(self.done("import", "acquisition.toml", "--json", "-q", "--threads", "2"))
        self.assertEqual((report["written"], report["events"]), (["recording.h5"], 3))
        self.assertEqual(self.report()["written"], [])

    def test_wiring(self):
        """Channels wired to other elements than their own number."""
        wiring = list(range(23, -1, -1))
        np.save(self.folder / "shot.npy", self.rf[:, wiring, :])
        self.bench(f'file = "shot.npy"\nchannel_elements = {wiring}')
        found = self.imported()
        np.testing.assert_array_equal(found["receive/element"][1], wiring)
        np.testing.assert_array_equal(found["receive/rf"], self.rf[:, wiring, :])

    # ---- the report

    TAIL = "[[point]]\nposition_mm = [2.0, 0.0, 12.0]\n"

    def test_nothing_to_look_at(self):
        np.save(self.folder / "shot.npy", self.counts)
        self.bench('file = "shot.npy"', tail=self.TAIL)
        words = self.done("import", "acquisition.toml", "--dry-run")
        self.assertNotIn("warning:", words)
        found = self.report()
        self.assertEqual((found["dead_elements"], found["weak_elements"], found["clipped_traces"]), ([], [], 0))
        self.assertTrue(0.7 < found["center_Hz"] / 5e6 < 1.1)  # a face of 5 mm takes some of the upper band
        point = found["points"][0]["as_stated"]
        self.assertLess(abs(point["late_s"]), 0.04e-6)  # a fifth of a period: so late is a face's middle, as tall as it is
        self.assertGreater(point["coherence"], 0.8)

    def test_faults_are_named(self):
        bad = self.counts.astype(float)
        bad[:, 5, :] = 0.0
        bad[:, 9, :] *= 0.05
        bad[:, 12, :] += 300.0
        bad = np.clip(bad, -1500, 1500)
        np.save(self.folder / "shot.npy", np.round(bad).astype(np.int16))
        self.bench('file = "shot.npy"', tail=self.TAIL)
        found = self.report()
        self.assertEqual((found["dead_elements"], found["weak_elements"]), ([5], [9]))
        self.assertEqual((found["clipped_at"], found["worst_offset_element"]), (1500, 12))
        flat = [np.abs(trace).max() == 1500 for trace in bad.reshape(-1, bad.shape[-1])]
        self.assertTrue(0 < found["clipped_traces"] <= sum(flat))
        rms = bad[:, 12, :].std()
        self.assertAlmostEqual(found["worst_offset_over_rms"], 300.0 / rms, delta=0.05 * 300.0 / rms)
        words = self.done("import", "acquisition.toml", "-n")
        for line in (r"warning: 1 dead .*: 5\n", r"warning: 1 weak .*: 9\n", r"warning: \d+ of 72 traces are flat at 1500",
                     r"warning: up to .*element 12"):
            self.assertRegex(words, line)

    def test_the_end_of_the_number_range_is_flat(self):
        full = np.clip(self.counts.astype(float) * 30.0, -32768, 32767).astype(np.int16)
        np.save(self.folder / "shot.npy", full)
        self.bench('file = "shot.npy"')
        self.assertIn("flat at 3276", self.done("import", "acquisition.toml", "-n"))

    def test_timing_that_is_off(self):
        """What the report says to add, added, puts the echo right."""
        np.save(self.folder / "shot.npy", self.rf)
        self.bench('file = "shot.npy"', tail=self.TAIL)
        own_us = self.report()["points"][0]["as_stated"]["late_s"] * 1e6
        for pulse_us in (0.42, -1.3):
            self.bench('file = "shot.npy"', first_us=self.start_s * 1e6 + pulse_us, tail=self.TAIL)
            late_us = self.report()["points"][0]["as_stated"]["late_s"] * 1e6
            self.assertAlmostEqual(late_us, pulse_us + own_us, delta=0.001)
            self.assertRegex(self.done("import", "acquisition.toml", "-n"),
                             rf"{'add' if pulse_us > 0 else 'take'} {round(abs(late_us), 3):g}")
            better = self.report("--set", f"acquisition.timing.pulse_center_us={late_us}")
            self.assertLess(abs(better["points"][0]["as_stated"]["late_s"]), 0.01e-6)

    def test_sign_of_the_delays_by_the_echo(self):
        np.save(self.folder / "shot.npy", self.rf)
        self.change("planes.toml", "[-5.0, 0.0, 5.0]", "[5.0, 0.0, -5.0]")
        self.bench('file = "shot.npy"', zero="first_firing", first_us=(self.start_s - self.delay_s.min(axis=1)) * 1e6,
                   tail=self.TAIL)
        self.assertRegex(self.done("import", "acquisition.toml", "-n"), r"warning: \(2, 0, 12\) mm: .* stronger with delays negated")

    def test_channels_the_wrong_way_round(self):
        np.save(self.folder / "shot.npy", self.rf[:, ::-1, :])
        self.bench('file = "shot.npy"', tail=self.TAIL)
        self.assertRegex(self.done("import", "acquisition.toml", "-n"), r"warning: .* stronger with channels reversed")

    def test_sign_of_the_delays_by_the_front(self):
        np.save(self.folder / "shot.npy", self.rf)
        np.save(self.folder / "delays.npy", -self.delay_s * 1e6)
        self.bench('file = "shot.npy"', transmit=self.own_events(), top='delays_file = "delays.npy"')
        self.assertRegex(self.done("import", "acquisition.toml", "-n"), r"negated they would fit .* give negate_delays = true")
        words = self.done("import", "acquisition.toml", "-n", "--set", "acquisition.negate_delays=true")
        self.assertRegex(words, r"delays +within 0 ns rms")

    def test_no_echo_there(self):
        np.save(self.folder / "shot.npy", np.random.default_rng(1).normal(size=self.rf.shape).astype(np.float32))
        self.bench('file = "shot.npy"', tail=self.TAIL)
        self.assertIn("warning: no echo that 72 traces agree on", self.done("import", "acquisition.toml", "-n"))

    def test_a_wrong_rate_shows_in_the_band(self):
        np.save(self.folder / "shot.npy", self.rf)
        self.bench('file = "shot.npy"')
        self.assertRegex(self.done("import", "acquisition.toml", "-n", "--set", "acquisition.timing.sampling_MHz=90"), r"band +warning: .*sampling_MHz")

    def test_measured_like_any_other(self):
        np.save(self.folder / "shot.npy", self.counts)
        self.bench('file = "shot.npy"', tail=self.TAIL)
        self.imported()
        self.reconstruct("-o", "picture.h5")
        point = json.loads(self.done("measure", "picture.h5", "--json"))["images"][0]["points"][0]
        self.assertAlmostEqual(point["peak_x_mm"], 2.0, delta=0.15)
        self.assertAlmostEqual(point["peak_depth_mm"], 12.0, delta=0.1)

    # ---- what is missing, wrong or damaged

    def test_the_example_can_be_followed(self):
        self.write("example.toml", self.done("import", "--example"))
        self.refused(2, r"samples\.npy: no such file; .*", "import", "example.toml", "-n")
        elements, events = 200, 31  # of linear_5MHz and plane_waves_31
        np.save(self.folder / "samples.npy", np.random.default_rng(1).normal(size=(events, elements, 256)).astype(np.float32))
        self.done("import", "example.toml", "-o", "r.h5")
        self.assertIn("acquired data", self.done("show", "r.h5"))

    def test_everything_missing_is_named_at_once(self):
        self.write("acquisition.toml", "")
        line = self.refused(2, "acquisition.toml: values are missing; .*", "import", "acquisition.toml")
        for key in ("probe", "samples.file", "samples.order", "timing.sampling_MHz", "timing.first_sample_us", "timing.zero",
                    "timing.pulse_center_us", "medium.sound_speed_m_s", "scan", "--example"):
            self.assertIn(key, line)
        self.write("acquisition.toml", 'probe = "probe.toml"\nscan = "planes.toml"\n[samples]\nfile = "shot.bin"\norder = "event channel sample"\n'
                   '[timing]\nsampling_MHz = 40\nzero = "front"\nfirst_sample_us = 0\npulse_center_us = 0\n[medium]\nsound_speed_m_s = 1540\n')
        line = self.refused(2, "acquisition.toml: values are missing; .*", "import", "acquisition.toml")
        self.assertIn("samples.type", line)
        self.assertIn("samples.shape", line)
        self.assertNotIn("timing", line)

    def test_refusals(self):
        np.save(self.folder / "shot.npy", self.rf)
        good = 'file = "shot.npy"'
        self.bench(good)
        for words, pattern in (
                (("acquisition.timing.samplng_MHz=3",), r".*unknown key, did you mean 'acquisition.timing.sampling_MHz'\?"),
                (('acquisition.samples.order="event sample"',), r".*order: is \"event sample\"; give event, channel and sample.*"),
                (('acquisition.samples.order="channel sample"',), r".*names 2 dimensions, and shot\.npy has 3 x 24 x \d+ numbers; .*"),
                (('acquisition.samples.order="channel event sample"',), r".*makes 24 events .*, and the scan has 3; .*"),
                (("acquisition.timing.first_sample_us=[0,1]",), r".*first_sample_us: has 2 times for 3 events; .*"),
                (('acquisition.timing.zero="delays"',), r".*zero: is \"delays\", and a scan brings no delays .*"),
                (('acquisition.timing.zero="trigger"',), r".*zero: .*first_firing.*"),
                (("acquisition.timing.sampling_MHz=8",), r".*sampling_MHz: is 8, too slow for the probe .*"),
                (("acquisition.samples.channel_elements=[0,1]",), r".*channel_elements: names 2 elements, and the samples have 24 channels; .*"),
                (("acquisition.samples.channel_elements=" + str([99] * 24).replace(" ", ""),), r".*channel_elements: 99 is no element; .*"),
                (("acquisition.samples.header_bytes=4",), r".*header_bytes: a \.npy file holds this itself; remove the key"),
                (("acquisition.negate_delays=true",), r".*negate_delays: is for delays of your own, .*"),
                (('acquisition.scan="nothing.toml"',), r".*nothing\.toml: no such file"),
                (('acquisition.samples.file="none.npy"',), r"none\.npy: no such file; .*")):
            with self.subTest(words[0]):
                self.refused(2, pattern, "import", "acquisition.toml", "--set", *words)
        self.refused(2, r"echoloom import: ACQUISITION is required: .*", "import")
        self.refused(2, r"--set: timing\.pulse_center_us: does not begin with the name of its file; write "
                        r"acquisition\.timing\.pulse_center_us=0\.42", "import", "acquisition.toml", "--set",
                     "timing.pulse_center_us=0.42")
        self.refused(2, r"recording\.h5: this is a folder.*|.*", "import", "acquisition.toml", "-o", ".")
        self.bench(good, transmit=self.own_events())
        self.refused(2, r"acquisition.toml:\d+: event.*: this event has no delays; give delays_us, .* 24 elements, .*", "import", "acquisition.toml")
        np.save(self.folder / "delays.npy", np.zeros((3, 23)))
        self.bench(good, transmit=self.own_events(), top='delays_file = "delays.npy"')
        self.refused(2, r".*delays_file: holds 3 x 23 numbers; give 3 x 24, .*", "import", "acquisition.toml")

    def test_files_that_cannot_be_samples(self):
        bad = self.rf.copy()
        bad[1, 2, 3] = np.nan
        with h5py.File(self.folder / "v73.mat", "w", userblock_size=512) as file:
            file["rf"] = self.rf
            file["rf"].attrs["MATLAB_class"] = np.bytes_("single")
        with open(self.folder / "v73.mat", "r+b") as file:
            file.write(b"MATLAB 7.3 MAT-file".ljust(116) + b"\0" * 8 + b"\x00\x02IM")
        np.save(self.folder / "nan.npy", bad)
        np.save(self.folder / "complex.npy", self.rf.astype(complex))
        np.save(self.folder / "unsigned.npy", self.counts.astype(np.uint16))
        np.savez(self.folder / "many.npz", self.rf)
        (self.folder / "zip.npy").write_bytes((self.folder / "many.npz").read_bytes())
        (self.folder / "empty.npy").write_bytes(b"")
        np.save(self.folder / "whole.npy", self.rf)
        (self.folder / "cut.npy").write_bytes((self.folder / "whole.npy").read_bytes()[:-4])
        scipy.io.savemat(self.folder / "complex.mat", {"rf": self.rf.astype(complex)})
        scipy.io.savemat(self.folder / "cell.mat", {"rf": np.array(["a", 1], dtype=object)})
        scipy.io.savemat(self.folder / "two.mat", {"a": np.eye(2), "b": np.eye(2)})
        for name, pattern in (("nan.npy", "event 2, channel index 2, sample index 3 is not a finite number; .*"),
                              ("complex.npy", "holds numbers of NumPy's type '<c16'; save int8, .*"),
                              ("unsigned.npy", "holds numbers of NumPy's type '<u2'; .*"), ("zip.npy", "is no .npy file; .*"),
                              ("empty.npy", "is empty; .*"), ("cut.npy", "is cut short: .*; copy it again"),
                              ("complex.mat", "rf: holds complex numbers; .*"), ("cell.mat", "rf: is no array of .*"),
                              ("two.mat", r"holds several variables; name one .*: a, b"),
                              ("v73.mat", "is a MATLAB file of version 7.3; .*")):
            with self.subTest(name):
                self.bench(f'file = "{name}"')
                self.refused(2, rf"{name}: {pattern}", "import", "acquisition.toml")
        self.bench('file = "two.mat"\nvariable = "c"')
        self.refused(2, r"two.mat: holds no variable 'c'; name one of a, b", "import", "acquisition.toml")
        (self.folder / "shot.bin").write_bytes(self.counts.tobytes()[:-2])
        self.bench(f'file = "shot.bin"\ntype = "int16"\nshape = {list(self.counts.shape)}')
        self.refused(2, r"shot.bin: holds \d+ bytes, and 3 x 24 x \d+ numbers of int16 after a header of 0 take \d+; .*", "import",
                     "acquisition.toml")

    def test_damage(self):
        """Any byte changed: a refusal or other numbers, never a crash."""
        chance = random.Random(7)
        small = self.counts[:, :, :64]
        np.save(self.folder / "good.npy", small)
        scipy.io.savemat(self.folder / "good.mat", {"rf": small}, do_compression=False)
        scipy.io.savemat(self.folder / "packed.mat", {"rf": small}, do_compression=True)
        for name in ("good.npy", "good.mat", "packed.mat"):
            good = (self.folder / name).read_bytes()
            damaged = "damaged" + name[-4:]
            self.bench(f'file = "{damaged}"')
            for _ in range(15):
                bad = bytearray(good)
                for _ in range(chance.choice((1, 1, 4))):
                    bad[chance.randrange(min(len(bad), 256))] = chance.randrange(256)
                (self.folder / damaged).write_bytes(bad[: chance.choice((len(bad), len(bad), chance.randrange(1, len(bad))))])
                result = self.run_command("import", "acquisition.toml", "--dry-run")
                self.assertIn(result.returncode, (0, 2), result.stderr)
                self.assertEqual(len(result.stderr.splitlines()), 0 if result.returncode == 0 else 1, result.stderr)


if __name__ == "__main__":
    unittest.main()
