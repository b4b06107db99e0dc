"""`echoloom panels`: images of several recordings on one page."""

import json
import unittest

from bench import Bench


class Panels(Bench):
    def setUp(self):
        super().setUp()
        self.simulate("a.h5")
        self.simulate("b.h5", "./lines.toml", "--set", "scan.focus_depth_mm=16")
        self.reconstruct("-o", "left.h5", recording="a.h5")
        self.reconstruct("-o", "right.h5", recording="b.h5")

    def picture(self, name):
        data = (self.folder / name).read_bytes()
        self.assertEqual(data[:8], b"\x89PNG\r\n\x1a\n")
        return data

    def test_draws_images_of_two_recordings(self):
        self.assertEqual(self.done("panels", "left.h5", "right.h5"), "panels.png\n")
        self.picture("panels.png")
        self.refused(2, r"panels\.png: already there; replace it with --force or give another name with -o", "panels",
                     "left.h5", "right.h5")
        before = self.picture("panels.png")
        self.done("panels", "left.h5", "right.h5", "--force")
        self.assertEqual(self.picture("panels.png"), before)

    def test_options_change_the_page(self):
        pages = set()
        for name, options in {"plain": [], "peak": ["--common-peak"], "range": ["--dynamic-range-db", "30"],
                              "words": ["--heading", "Two foci"], "titles": ["--title", "10 mm", "--title", "16 mm"],
                              "truth": ["--mark-truth"]}.items():
            self.done("panels", "left.h5", "right.h5", "-o", name + ".png", *options)
            pages.add(self.picture(name + ".png"))
        self.assertEqual(len(pages), 6)

    def test_wrong_numbers_of_things(self):
        self.refused(2, r"1 image for one page of panels; give 2 to 6", "panels", "left.h5")
        self.refused(2, r"7 images for one page of panels; give 2 to 6", "panels", *["left.h5"] * 7)
        self.refused(2, r"--title: is given 1 time for 2 images; give one for each, in their order", "panels", "left.h5",
                     "right.h5", "--title", "only one")
        self.refused(2, r"--dynamic-range-db: is -3; give a number more than 0, at most 400", "panels", "left.h5", "right.h5",
                     "--dynamic-range-db=-3")
        self.refused(2, r"echoloom panels: IMAGE is required; see echoloom panels --help", "panels")

    def test_an_option_leaves_the_images_after_it(self):
        self.assertEqual(self.done("panels", "--title", "10 mm", "left.h5", "--title", "16 mm", "right.h5"), "panels.png\n")

    def test_lands_beside_the_first_image(self):
        (self.folder / "elsewhere").mkdir()
        (self.folder / "left.h5").rename(self.folder / "elsewhere/left.h5")
        self.assertEqual(self.done("panels", "elsewhere/left.h5", "right.h5"), "elsewhere/panels.png\n")
        self.assertIn("elsewhere/panels.png", self.files())
        self.done("panels", "elsewhere/left.h5", "right.h5", "-o", "here.png")
        self.assertIn("here.png", self.files())

    def test_json_names_what_was_written(self):
        self.assertEqual(json.loads(self.done("panels", "left.h5", "right.h5", "--json", "--threads", "1", "-q")),
                         {"written": ["panels.png"]})

    def test_files_that_are_no_images(self):
        self.refused(2, r"nothing\.h5: no such file.*", "panels", "left.h5", "nothing.h5")
        self.refused(2, r"a\.h5: .*recording.*", "panels", "left.h5", "a.h5")


if __name__ == "__main__":
    unittest.main()
