"""`echoloom panels`: images of several recordings on one page."""

import unittest

from bench import Bench


class Sheet(Bench):
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
        self.assertEqual(self.done("sheet", "left.h5", "right.h5"), "panels.png\n")
        self.picture("panels.png")
        self.refused(2, r"sheet\.png: already there; replace it with --force or give another name with -o", "sheet",
                     "left.h5", "right.h5")
        before = self.picture("panels.png")
        self.done("sheet", "left.h5", "right.h5", "--force")
        self.assertEqual(self.picture("panels.png"), before)

    def test_options_change_the_page(self):
        pages = set()
        for name, options in {"plain": [], "peak": ["--common-peak"], "range": ["--range-dB", "30"],
                              "words": ["--heading", "Two foci"], "titles": ["--titles", "10 mm", "16 mm"],
                              "truth": ["--mark-truth"]}.items():
            self.done("sheet", "left.h5", "right.h5", "-o", name + ".png", *options)
            pages.add(self.picture(name + ".png"))
        self.assertEqual(len(pages), 6)

    def test_wrong_numbers_of_things(self):
        self.refused(2, r"a sheet of 1 image.*; it takes 2 to 6", "sheet", "left.h5")
        self.refused(2, r"a sheet of 7 images; it takes 2 to 6", "sheet", *["left.h5"] * 7)
        self.refused(2, r"--titles: has 1 title.* for 2 images; give one for each", "sheet", "left.h5", "right.h5",
                     "--titles", "only one")
        self.refused(2, r"--range-dB: is -3; give more than 0, at most 400", "sheet", "left.h5", "right.h5",
                     "--range-dB=-3")
        self.refused(2, r"echoloom panels: IMAGE is required; see echoloom panels --help", "sheet")

    def test_files_that_are_no_images(self):
        self.refused(2, r"nothing\.h5: no such file.*", "sheet", "left.h5", "nothing.h5")
        self.refused(2, r"a\.h5: .*recording.*", "sheet", "left.h5", "a.h5")


if __name__ == "__main__":
    unittest.main()
