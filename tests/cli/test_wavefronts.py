"""What `echoloom wavefronts` draws, and what it refuses."""

import csv
import json
import struct
import unittest

import h5py
import numpy as np
from bench import Bench, escaped

FRONT = ["--probe", "./probe.toml", "--elements", "8", "--focus-mm", "5", "--depth-mm", "7", "--width-mm", "5"]


def unpack(data, min_bits):
    """Pixels of a GIF's LZW codes (GIF89a specification, appendix F)."""
    clear, stop = 1 << min_bits, (1 << min_bits) + 1
    pixels, bits, held, width = bytearray(), 0, 0, min_bits + 1
    table, before = {}, None
    for byte in data:
        bits |= byte << held
        held += 8
        while held >= width:
            code, bits, held = bits & ((1 << width) - 1), bits >> width, held - width
            if code == clear:
                table, width, before = {i: bytes([i]) for i in range(clear)}, min_bits + 1, None
                table[clear] = table[stop] = b""
                continue
            if code == stop:
                return bytes(pixels)
            entry = table[code] if code in table else before + before[:1]
            pixels += entry
            if before is not None and len(table) < 4096:
                table[len(table)] = before + entry[:1]
                if len(table) == 1 << width and width < 12:
                    width += 1
            before = entry
    return bytes(pixels)


def read_gif(path):
    """Frames as [y, x, colour], with how long each stays (s); an animation that runs for ever."""
    data = path.read_bytes()
    assert data[:6] == b"GIF89a"
    width, height, flags = struct.unpack("<HHB", data[6:11])
    colours = np.frombuffer(data[13:13 + 3 * 256], np.uint8).reshape(256, 3)
    assert flags & 0x87 == 0x87  # 256 colours for all frames
    canvas, frames, delays, loop = np.zeros((height, width), np.uint8), [], [], None
    at = 13 + 3 * 256

    def blocks():
        nonlocal at
        while data[at]:
            yield data[at + 1:at + 1 + data[at]]
            at += 1 + data[at]
        at += 1

    while data[at] != 0x3B:
        if data[at] == 0x21:
            label, at = data[at + 1], at + 2
            parts = list(blocks())
            if label == 0xF9:
                delays.append(struct.unpack("<H", parts[0][1:3])[0] / 100)
            elif parts[0] == b"NETSCAPE2.0":
                loop = struct.unpack("<H", parts[1][1:3])[0]
        else:
            x, y, w, h = struct.unpack("<HHHH", data[at + 1:at + 9])
            min_bits, at = data[at + 10], at + 11
            pixels = unpack(b"".join(blocks()), min_bits)
            canvas[y:y + h, x:x + w] = np.frombuffer(pixels, np.uint8).reshape(h, w)
            frames.append(colours[canvas])
    assert loop == 0
    return frames, delays


class Wavefronts(Bench):
    def fronts(self, *more):
        return self.done("wavefronts", *FRONT, *more)

    def refuse(self, pattern, *more, code=2):
        return self.refused(code, pattern, "wavefronts", *more)

    def test_panels_and_figures(self):
        words = self.fronts("--panels", "front.png")
        self.assertEqual((self.folder / "front.png").read_bytes()[:8], b"\x89PNG\r\n\x1a\n")
        # 5 mm at 1540 m/s are 3.247 us; the lens and the height of the face move the peak by some tens of ns.
        self.assertRegex(words, r"peak at the focus after \(us\) +3\.[23]\d+ +theory, focus / c: 3\.247, ratio (0\.9[89]|1\.0[0-3])")
        self.assertRegex(words, r"theory, all in phase: 8\.00, ratio (0\.99|1\.0)")
        self.assertIn("teaching and research only", words)

    def test_animation_moves_and_comes_to_rest(self):
        self.fronts("--animation", "front.gif", "--frames", "4")
        frames, delays = read_gif(self.folder / "front.gif")
        self.assertEqual(len(frames), 4)
        self.assertEqual(len(set(delays[:-1])), 1)
        self.assertGreater(delays[-1], 5 * delays[0])
        for before, after in zip(frames, frames[1:]):
            self.assertGreater(np.count_nonzero((before != after).any(axis=2)), 1000)
        # Greys and the orange of what has fired, no hue beside.
        red, green, blue = (frames[-1][..., i].astype(int) for i in range(3))
        self.assertTrue(np.any(red - blue > 150))
        self.assertTrue(np.all(red >= green - 1))
        self.assertTrue(np.all(green >= blue - 1))

    def test_any_number_of_threads_gives_the_same_bytes(self):
        for threads in (1, 3):
            self.fronts("--panels", f"{threads}.png", "--animation", f"{threads}.gif", "--frames", "3", "--at-us", "2",
                        "--threads", threads)
        for ending in ("png", "gif"):
            self.assertEqual(*((self.folder / f"{threads}.{ending}").read_bytes() for threads in (1, 3)))

    def test_an_event_of_a_scan(self):
        words = self.done("wavefronts", "--probe", "./probe.toml", "--scan", "./planes.toml", "--event", "1", "--panels",
                          "plane.png", "--at-us", "2", "--depth-mm", "5", "--width-mm", "6")
        self.assertIn("without a focus", words)

    def test_delays_follow_the_law_and_flatten_with_depth(self):
        """tau = (R - sqrt(R^2 + x^2 - 2 x R sin(angle))) / c (von Ramm & Smith 1983, from memory)."""
        self.done("wavefronts", "--probe", "./probe.toml", "--delays", "delays.png", "--focus-mm", "10", "--focus-mm", "40",
                  "--steer-deg", "0", "--steer-deg", "20")
        self.assertLessEqual({"delays.png", "delays.csv", "delays.gp", "delays.svg"}, self.files())
        rows = list(csv.DictReader((self.folder / "delays.csv").read_text().splitlines()))
        self.assertEqual(len(rows), 4 * 24)
        spread = {}
        for panel, angle in (("1", 0.0), ("2", 20.0)):
            for curve, focus in (("1", 10e-3), ("2", 40e-3)):
                own = [row for row in rows if row["panel"] == panel and row["curve"] == curve]
                x = np.array([float(row["element_position_mm"]) for row in own]) * 1e-3
                law = (focus - np.sqrt(focus**2 + x**2 - 2 * x * focus * np.sin(np.radians(angle)))) / 1540.0
                found = np.array([float(row["delay_us"]) for row in own]) * 1e-6
                np.testing.assert_allclose(found, law - law.min(), atol=1e-12)
                spread[panel, curve] = found.max()
        self.assertLess(spread["1", "2"], 0.3 * spread["1", "1"])

    def test_echoes_are_brought_into_phase(self):
        words = self.done("wavefronts", "--probe", "./probe.toml", "--focus-mm", "10", "--point", "0,9.5", "--echoes",
                          "echoes.png")
        self.assertRegex(words, r"after the delays +(0\.9[89]|1\.00)")
        rows = [row for row in csv.DictReader((self.folder / "echoes.csv").read_text().splitlines()) if row["channel"]]
        channels = sorted({int(row["channel"]) for row in rows})
        self.assertEqual(channels, list(range(25)))  # the mean, and 24
        for channel in channels[1:]:
            own = [row for row in rows if int(row["channel"]) == channel]
            for column, where in (("before", "arrival_us"), ("after", "meeting_us")):
                top = max(own, key=lambda row: abs(float(row[column])))
                self.assertLess(abs(float(top["time_us"]) - float(top[where])), 0.1)  # half a period

    def test_echoes_of_a_recording(self):
        self.write("points.toml", (self.folder / "phantom.toml").read_text().split("[[speckle]]")[0])
        self.done("simulate", "./points.toml", "--probe", "./probe.toml", "--scan", "./lines.toml", "-o", "points.h5", "-q")
        words = self.done("wavefronts", "--recording", "points.h5", "--echoes", "echoes.png")
        self.assertRegex(words, r"points\.h5, event 7; a point at x = 0 mm, 14 mm deep")
        self.assertRegex(words, r"after the delays +(0\.9[6-9]|1\.00)")
        self.refuse(r"--event: is 14; the recording has 13 events, counted from 1 to 13", "--recording", "points.h5", "--echoes",
                    "more.png", "--event", "14")
        self.refuse(r"--point: no echo was recorded from a point at x = 0 mm, 200 mm deep; give another point",
                    "--recording", "points.h5", "--echoes", "more.png", "--point", "0,200")

    def test_rings_and_curved_faces(self):
        self.write("rings.toml", 'kind = "annular"\nring_edges_mm = [0.0, 2.0, 2.1, 3.0]\ncenter_MHz = 3.0\n'
                   "bandwidth_percent = 60.0\n")
        self.done("wavefronts", "--probe", "./rings.toml", "--focus-mm", "8", "--delays", "d.png", "--panels", "s.png",
                  "--at-us", "5", "--depth-mm", "9", "--width-mm", "8", "--echoes", "e.png")
        self.refuse(r"--steer-deg: rings cannot steer; leave it out, or give 0", "--probe", "./rings.toml", "--steer-deg",
                    "10", "--delays", "more.png")

    def test_what_is_asked_must_make_sense(self):
        probe = ["--probe", "./probe.toml"]
        self.refuse(r"echoloom wavefronts: nothing is asked for; add --panels FILE\.png, .*", *probe)
        self.refuse(r"--probe: is missing; say which array it is, as in --probe linear_5MHz", "--panels", "s.png")
        self.refuse(r"--elements: is 25, and the probe \"probe\" has 24 elements in a row; give at most that", *probe, "--elements", "25",
                    "--panels", "s.png")
        self.refuse(r"--frames: is 1; give a whole number from 2 to 500", *probe, "--frames", "1", "--animation", "a.gif")
        self.refuse(r"--focus-mm: is 0; give a number from 1 to 1000", *probe, "--focus-mm", "0", "--panels", "s.png")
        self.refuse(r"--steer-deg: is 80; give a number from -60 to 60", *probe, "--steer-deg", "80", "--panels", "s.png")
        self.refuse(r"--animation: is front\.mp4; give the name of an animation, NAME\.gif", *probe, "--animation",
                    "front.mp4")
        self.refuse(r"--delays: is d\.svg; give the name of a picture, NAME\.png", *probe, "--delays", "d.svg")
        self.refuse(r"--panels: is s\.jpg; give the name of a picture, NAME\.png", *probe, "--panels", "s.jpg")
        self.refuse(r"--focus-mm: is given 2 times, which is for --delays alone; .*", *probe, "--focus-mm", "5",
                    "--focus-mm", "6", "--panels", "s.png")
        self.refuse(r"--event: belongs to a scan or a recording; add --scan NAME or --recording FILE", *probe, "--event",
                    "1", "--panels", "s.png")
        self.refuse(r"--point: is whose echoes are drawn; add --echoes FILE\.png", *probe, "--point", "0,5",
                    "--panels", "s.png")
        self.refuse(r"--recording: is for the echoes of a point; add --echoes FILE\.png", *probe, "--recording", "r.h5",
                    "--panels", "s.png")

    def test_json_has_the_figures(self):
        report = json.loads(self.fronts("--panels", "front.png", "--delays", "delays.png", "--at-us", "2", "--json", "-q"))
        self.assertEqual((report["format"], report["format_version"]), ("echoloom wavefronts", 1))
        self.assertEqual(report["written"], ["front.png", "delays.png"])
        self.assertEqual(report["front"]["instants_s"], [2e-6])
        self.assertEqual(report["front"]["elements"], 8)
        self.assertAlmostEqual(report["front"]["focus_arrival_theory_s"], 5e-3 / 1540.0, places=12)
        self.assertEqual([law["focus_mm"] for law in report["delays"]], [5.0, 5.0])
        self.assertEqual(len(report["delays"][0]["delay_s"]), 8)
        self.assertIn("teaching and research only", report["caution"])

    def test_acquired_data_are_not_called_simulated(self):
        self.simulate("points.h5")
        words = self.done("wavefronts", "--recording", "points.h5", "--echoes", "a.png")
        self.assertIn("Simulated, for teaching", words)
        with h5py.File(self.folder / "points.h5", "r+") as file:
            del file["source"]
        words = self.done("wavefronts", "--recording", "points.h5", "--echoes", "b.png")
        self.assertIn("For teaching", words)
        self.assertNotIn("Simulated", words + (self.folder / "b.gp").read_text())

    def test_a_place_is_one_word(self):
        for wrong, meant in (("3;40", "3,40"), ("0, 4cm", "0,40")):
            self.refuse(rf"--point: '{wrong}' is not X,DEPTH, .*; write --point {meant}", "--probe", "./probe.toml", "--echoes",
                        "e.png", "--point", wrong)
        self.refuse(r"--point: is given 2 times; give one point", "--probe", "./probe.toml", "--echoes", "e.png", "--point",
                    "0,5", "--point", "0,6")
        self.refuse(r"--point: lies -5 mm deep; .*", "--probe", "./probe.toml", "--echoes", "e.png", "--point", "0,-5")

    def test_what_is_there_stays(self):
        for option, name in (("--panels", "s.png"), ("--animation", "a.gif"), ("--delays", "d.png"), ("--echoes", "e.png")):
            self.write(name, "old")
            self.refuse(rf"{escaped(name)}: already there; replace it with --force or .* {option}", "--probe",
                        "./probe.toml", option, name)
            self.assertEqual((self.folder / name).read_text(), "old")


if __name__ == "__main__":
    unittest.main()
