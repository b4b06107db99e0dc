"""What is written: whole or not at all, never over something else, and the same bytes every time."""

import hashlib
import os
import signal
import struct
import subprocess
import time
import unittest

from bench import ECHOLOOM, Bench

SIMULATE = ("simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./lines.toml")


def png_size(path):
    head = path.read_bytes()[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n", path
    return struct.unpack(">II", head[16:24])


class Outputs(Bench):
    def digest(self, name):
        return hashlib.sha256((self.folder / name).read_bytes()).hexdigest()

    def test_existing_output_is_kept(self):
        self.write("recording.h5", "precious")
        self.refused(2, r"recording\.h5: already there; replace it with --force or give another name with -o",
                     *SIMULATE)
        self.assertEqual((self.folder / "recording.h5").read_text(), "precious")
        self.simulate("recording.h5", "./lines.toml", "--force")
        self.write("recipe.png", "precious")
        self.refused(2, r"recipe\.png: already there; .*", "reconstruct", "recording.h5", "--recipe", "./recipe.toml")
        self.reconstruct("--force")

    def test_remedies_name_options_that_are_there(self):
        self.refused(2, r"\.: this is a folder; give the name of a file with -o", *SIMULATE, "-o", ".", "--force")
        self.refused(2, r"new/: this is a folder; .*", *SIMULATE, "-o", "new/")
        self.simulate()
        self.write("panels.png", "precious")
        self.refused(2, r"panels\.png: already there; .* with --panels", "reconstruct", "recording.h5", "--recipe",
                     "./fixed.toml", "--recipe", "./recipe.toml")
        self.reconstruct()
        self.write("table.csv", "precious")
        self.refused(2, r"table\.csv: already there; .* with --csv", "measure", "recipe.h5", "--csv", "table.csv")

    def test_folders_are_made(self):
        self.simulate("a/b/recording.h5")
        self.assertIn("a/b/recording.h5", self.files())

    def test_where_outputs_land(self):
        """Named ones go there from the current folder; others beside what they are made from, or into that folder."""
        for folder in ("data", "work"):
            (self.folder / folder).mkdir()
        here = self.folder / "work"
        def run(*words):
            done = subprocess.run([ECHOLOOM, *words, "-q"], cwd=here, capture_output=True, text=True)
            self.assertEqual(done.returncode, 0, done.stderr)
            return set(done.stdout.split())
        settings = ("simulate", "../phantom.toml", "--probe", "../probe.toml", "--scan", "../lines.toml")
        self.assertIn("recording.h5", run(*settings))
        self.assertIn("work/recording.h5", self.files())
        run(*settings, "-o", "../data/r.h5")
        recipes = ("--recipe", "../recipe.toml", "--recipe", "../fixed.toml")
        before = self.files()
        run("reconstruct", "../data/r.h5", *recipes)
        made = self.files() - before
        self.assertTrue({"data/recipe.h5", "data/fixed.png", "data/panels.png", "data/widths.png"} <= made)
        self.assertTrue(all(name.startswith("data/") for name in made))
        before = self.files()
        run("reconstruct", "../data/r.h5", *recipes, "-o", "out", "--panels", "page.png")
        made = self.files() - before
        self.assertTrue({"work/out/recipe.h5", "work/page.png"} <= made)
        self.assertNotIn("work/out/panels.png", made)
        before = self.files()
        run("panels", "../data/recipe.h5", "out/recipe.h5", "--force")
        run("measure", "../data/recipe.h5", "--csv", "t.csv")
        run("beam", "--probe", "../probe.toml", "--scan", "../lines.toml", "--depth-mm", "4", "--csv", "b.csv")
        run("wavefronts", "--recording", "../data/r.h5", "--echoes", "e.png")
        self.assertTrue({"work/t.csv", "work/t_quantities.csv", "work/b.csv", "work/e.png"} <= self.files() - before)

    def test_folder_that_cannot_be_made(self):
        self.refused(3, r"phantom\.toml/x: cannot create this folder: .*", *SIMULATE, "-o", "phantom.toml/x/r.h5")
        self.refused(3, r"/proc/x: cannot create this folder: .*", *SIMULATE, "-o", "/proc/x/r.h5")

    def test_same_command_same_bytes(self):
        self.simulate("one.h5")
        self.simulate("two.h5")
        self.assertEqual(self.digest("one.h5"), self.digest("two.h5"))
        self.reconstruct("-o", "image_one.h5", recording="one.h5")
        self.reconstruct("-o", "image_two.h5", recording="two.h5")
        self.assertEqual(self.digest("image_one.h5"), self.digest("image_two.h5"))
        self.assertEqual(self.digest("image_one.png"), self.digest("image_two.png"))

    def test_threads_and_blocks_change_no_bit(self):
        for scan in ("./lines.toml", "./planes.toml"):
            digests = set()
            for more in (["--threads", "1"], ["--threads", "2"], ["--threads", "3"], ["--cells-per-block", "1"],
                         ["--threads", "3", "--cells-per-block", "7"]):
                self.simulate("r.h5", scan, "--force", "--set", "scan.noise_snr_dB=30", *more)
                digests.add(self.digest("r.h5"))
            self.assertEqual(len(digests), 1)
            images = set()
            for threads in (1, 2, 3):
                self.reconstruct("-o", "image.h5", "--force", "--threads", threads, recording="r.h5")
                images.add(self.digest("image.h5"))
            self.assertEqual(len(images), 1)

    def test_seed_changes_only_what_is_random(self):
        import h5py
        import numpy
        self.simulate("a.h5")
        self.simulate("b.h5", "./lines.toml", "--set", "phantom.seed=4")
        with h5py.File(self.folder / "a.h5") as a, h5py.File(self.folder / "b.h5") as b:
            self.assertFalse(numpy.array_equal(a["receive/rf"][...], b["receive/rf"][...]))
            for name in ("receive/element", "probe/element_center_m", "transmit/delay_s", "truth/points_m"):
                numpy.testing.assert_array_equal(a[name][...], b[name][...])

    def test_full_disk(self):
        # A limit on the size of a file stops the write where a full disk would.
        self.refused(3, r"recording\.h5: .*(too large|space|full|write).*", *SIMULATE, "-q", largest_file=40000)
        self.simulate()
        self.refused(3, r"recipe\.(h5|png): .*(too large|space|full|write).*", "reconstruct", "recording.h5", "--recipe",
                     "./recipe.toml", "-q", largest_file=4000)

    @unittest.skipUnless(os.geteuid() == 0 and os.access("/dev/shm", os.W_OK), "mounts a tiny disk: needs root")
    def test_really_full_disk(self):
        disk = self.folder / "disk"
        disk.mkdir()
        if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", disk], capture_output=True).returncode:
            self.skipTest("may not mount here")
        self.addCleanup(subprocess.run, ["umount", disk])
        self.refused(3, r"disk/recording\.h5: needs .* and the disk has 64 KiB left; free some space or choose .*",
                     *SIMULATE, "-o", "disk/recording.h5")

    def test_interrupted_run_leaves_nothing(self):
        self.change("phantom.toml", "density_per_mm3 = 4.0", "density_per_mm3 = 4000.0")
        before = self.files()
        for code in (signal.SIGINT, signal.SIGTERM):
            process = subprocess.Popen([ECHOLOOM, *SIMULATE], cwd=self.folder, stdout=subprocess.PIPE,
                                       stderr=subprocess.PIPE, text=True)
            deadline = time.monotonic() + 20
            while self.files() == before and process.poll() is None and time.monotonic() < deadline:
                time.sleep(0.005)
            self.assertIsNone(process.poll(), "the run ended before it could be interrupted")
            self.assertNotEqual(self.files(), before)  # the temporary is there
            self.assertNotIn("recording.h5", self.files())
            process.send_signal(code)
            out, err = process.communicate(timeout=20)
            self.assertEqual(process.returncode, 128 + code)
            self.assertEqual(out, "")
            self.assertTrue(err.endswith("error: interrupted; no unfinished file is left behind\n"), err)
            self.assertEqual(self.files(), before)


class Pipeline(Bench):
    """The main job, small: echoes, pictures side by side, curves and the table."""

    def test_from_phantom_to_table(self):
        self.simulate("out/recording.h5")
        printed = self.done("reconstruct", "out/recording.h5", "--recipe", "./fixed.toml", "--recipe", "./recipe.toml",
                            "-q").splitlines()
        for name in ("out/fixed.h5", "out/fixed.png", "out/recipe.h5", "out/recipe.png", "out/panels.png",
                     "out/widths.png", "out/profiles_shallow.png"):
            self.assertIn(name, printed)
        for name in printed:
            self.assertGreater((self.folder / name).stat().st_size, 1000, name)
            if name.endswith(".png"):
                width, height = png_size(self.folder / name)
                self.assertTrue(400 <= width <= 4000 and 300 <= height <= 4000, f"{name}: {width} x {height}")
        # A panel is taller than wide at true aspect (4 mm by 18 mm); the sheet holds two of them side by side.
        self.assertGreater(png_size(self.folder / "out/panels.png")[0], png_size(self.folder / "out/recipe.png")[0] * 0.8)

        table = self.done("measure", "out/fixed.h5", "out/recipe.h5")
        self.assertIn("Held at 10 mm", table)
        self.assertIn("A recipe of the test", table)
        self.assertIn("not for diagnosis", table)
        import json
        report = json.loads(self.done("measure", "out/fixed.h5", "out/recipe.h5", "--json"))
        self.assertEqual(report["format"], "echoloom measurement")
        images = report["images"]
        self.assertEqual(len(images), 2)
        for image in images:
            self.assertEqual(len(image["points"]), 2)

    def test_measure_writes_csv_and_plots(self):
        self.simulate()
        self.reconstruct()
        self.done("measure", "recipe.h5", "--csv", "widths_table.csv", "--plot", "curves")
        self.assertIn("curves/widths.png", self.files())
        rows = (self.folder / "widths_table.csv").read_text().splitlines()
        self.assertGreaterEqual(len(rows), 4)
        self.refused(2, r"widths_table\.csv: already there; .*", "measure", "recipe.h5", "--csv", "widths_table.csv")

    def test_plane_waves(self):
        self.simulate("recording.h5", "./planes.toml")
        self.reconstruct("-o", "image.h5")
        self.assertIn('"cartesian"', self.done("show", "image.h5", "--json"))

    def test_override_reaches_the_recipe(self):
        self.simulate()
        self.reconstruct("-o", "a.h5")
        self.reconstruct("-o", "b.h5", "--set", "recipe.receive.f_number=5", "--set", "recipe.picture.title=Narrow")
        self.assertIn("Narrow", self.done("show", "b.h5"))
        self.assertIn("F/5", self.done("show", "b.h5"))

    def test_titles_say_what_was_overridden(self):
        self.simulate()
        self.reconstruct("-o", "a.h5", "--set", "recipe.receive.f_number=5", "--set", "recipe.picture.dynamic_range_dB=50")
        self.assertIn('"Recipe (f_number = 5)"', self.done("show", "a.h5"))
        self.assertIn("Recipe (f_number = 5) [recipe]", self.done("measure", "a.h5"))

    def test_images_of_one_recipe_are_told_apart(self):
        import json
        self.simulate()
        self.reconstruct("-o", "before.h5")
        self.reconstruct("-o", "after.h5")
        table = self.done("measure", "before.h5", "after.h5", "--csv", "t.csv", "--plot", "curves")
        self.assertIn("\nbefore.h5: A recipe of the test [recipe]\n", table)
        self.assertIn("\nafter.h5: A recipe of the test [recipe]\n", table)
        self.assertIn("A recipe of the test (after.h5)", (self.folder / "curves/widths.svg").read_text())
        self.assertRegex((self.folder / "t.csv").read_text(), r'\n"before\.h5","recipe",1,')
        images = json.loads(self.done("measure", "before.h5", "after.h5", "--json"))["images"]
        self.assertEqual([image["file"] for image in images], ["before.h5", "after.h5"])

    def test_one_depth_makes_no_curve_of_widths(self):
        text = (self.folder / "phantom.toml").read_text()
        self.write("phantom.toml", text.replace("position_mm = [0.0, 0.0, 14.0]", "position_mm = [2.0, 0.0, 8.0]"))
        self.simulate()
        self.reconstruct()
        self.done("measure", "recipe.h5", "--plot", "curves")
        self.assertIn("curves/profiles_shallow.png", self.files())
        self.assertNotIn("curves/widths.png", self.files())
        script = (self.folder / "curves/profiles_shallow.gp").read_text()
        self.assertIn("the point at x = 0 mm, 8 mm deep", script)
        self.assertIn("not for diagnosis", script)

    def test_a_recording_without_digest_shows_none(self):
        import h5py
        self.simulate()
        with h5py.File(self.folder / "recording.h5", "r+") as file:
            name = next(key for key in file.attrs if "digest" in key)
            del file.attrs[name]
        self.assertNotIn("digest", self.done("show", "recording.h5"))

    def test_seven_recipes_make_no_page(self):
        self.simulate()
        recipes = []
        for n in range(7):
            self.write(f"r{n}.toml", (self.folder / "recipe.toml").read_text())
            recipes += ["--recipe", f"./r{n}.toml"]
        self.refused(2, r"--panels: shows 2 to 6 images side by side, and there are 7 recipes", "reconstruct",
                     "recording.h5", *recipes, "--panels", "s.png")
        self.done("reconstruct", "recording.h5", *recipes, "-q")
        self.assertNotIn("panels.png", self.files())


if __name__ == "__main__":
    unittest.main()
