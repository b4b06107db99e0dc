"""What bad input gets: one line that names file, line, key and remedy, the exit code, and nothing left behind."""

import unittest

from bench import Bench


class Settings(Bench):
    def refuse(self, pattern, *more, code=2):
        return self.refused(code, pattern, "simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan",
                            "./lines.toml", *more)

    def test_missing_value(self):
        self.change("probe.toml", "center_MHz = 5.0\n", "")
        self.refuse(r"\./probe\.toml: center_MHz: missing; give a number .*MHz")

    def test_misspelt_key(self):
        line = self.change("lines.toml", "focus_depth_mm", "focus_dept_mm")
        self.refuse(rf"\./lines\.toml:{line}: focus_dept_mm: unknown key, did you mean 'focus_depth_mm'\?")

    def test_misspelt_optional_key(self):
        self.write("lines.toml", "noise_snr_db = 40.0\n" + (self.folder / "lines.toml").read_text())
        self.refuse(r"\./lines\.toml:1: noise_snr_db: unknown key, did you mean 'noise_snr_dB'\?")

    def test_misspelt_word(self):
        line = self.change("probe.toml", '"rigid"', '"rigit"')
        self.refuse(rf'\./probe\.toml:{line}: baffle: is the text "rigit"; give one of .*; did you mean \'rigid\'\?')

    def test_negative_value(self):
        line = self.change("probe.toml", "pitch_mm = 0.30", "pitch_mm = -0.30")
        self.refuse(rf"\./probe\.toml:{line}: pitch_mm: is -0\.3; give a number more than 0.*")

    def test_not_a_number(self):
        line = self.change("phantom.toml", "attenuation_dB_cm_MHz = 0.3", "attenuation_dB_cm_MHz = nan")
        self.refuse(rf"\./phantom\.toml:{line}: medium\.attenuation_dB_cm_MHz: is not a number \(nan\); give .*")

    def test_infinite_value(self):
        line = self.change("lines.toml", "depth_mm = 18.0", "depth_mm = inf")
        self.refuse(rf"\./lines\.toml:{line}: depth_mm: is inf; give .*mm")

    def test_absurd_value(self):
        line = self.change("phantom.toml", "sound_speed_m_s = 1540.0", "sound_speed_m_s = 3.0e8")
        self.refuse(rf"\./phantom\.toml:{line}: medium\.sound_speed_m_s: is 300000000; give .*m/s")

    def test_absurd_density(self):
        line = self.change("phantom.toml", "density_per_mm3 = 4.0", "density_per_mm3 = 1e12")
        self.refuse(rf"\./phantom\.toml:{line}: speckle\.0\.density_per_mm3: .*")

    def test_text_where_a_number_belongs(self):
        line = self.change("probe.toml", "elements = 24", 'elements = "many"')
        self.refuse(rf'\./probe\.toml:{line}: elements: is the text "many"; give a whole number from .*')

    def test_broken_toml(self):
        line = self.change("probe.toml", "kind = ", "kind ")
        self.refuse(rf"\./probe\.toml:{line}: .*")

    def test_overlapping_elements(self):
        line = self.change("probe.toml", "width_mm = 0.27", "width_mm = 0.35")
        self.refuse(rf"\./probe\.toml:{line}: width_mm: the elements overlap: .*0\.35.*0\.3.*")

    def test_focus_behind_the_array(self):
        line = self.change("lines.toml", "focus_depth_mm = 10.0", "focus_depth_mm = -10.0")
        self.refuse(rf"\./lines\.toml:{line}: focus_depth_mm: is -10: .*behind the array.*; give a number more than 0.*")

    def test_aperture_wider_than_the_array(self):
        line = self.change("lines.toml", "transmit_elements = 12", "transmit_elements = 25")
        self.refuse(rf"\./lines\.toml:{line}: transmit_elements: is 25, .*24 elements; .*")

    def test_scatterers_above_the_array(self):
        line = self.change("phantom.toml", "position_mm = [0.0, 0.0, 8.0]", "position_mm = [0.0, 0.0, -8.0]")
        self.refuse(rf"\./phantom\.toml:{line}: point\.0\.position_mm: .*-8.*")

    def test_missing_file(self):
        (self.folder / "probe.toml").unlink()
        self.refuse(r"\./probe\.toml: no such file")

    def test_misspelt_shipped_name(self):
        self.refused(2, r"no shipped probe is called 'linear_5Mhz', did you mean 'linear_5MHz'\?", "simulate",
                     "./phantom.toml", "--probe", "linear_5Mhz", "--scan", "./lines.toml")

    def test_override_out_of_range(self):
        self.refuse(r"--set: scan\.focus_depth_mm: is -1: .*", "--set", "scan.focus_depth_mm=-1")

    def test_override_of_unknown_key(self):
        self.refuse(r"--set: probe\.pich_mm: unknown key, did you mean 'probe\.pitch_mm'\?", "--set", "probe.pich_mm=0.3")

    def test_override_without_owner(self):
        self.refuse(r"--set: pitch_mm: does not begin with the name of its file; write phantom\.pitch_mm=0\.3, "
                    r"probe\.pitch_mm=0\.3 or scan\.pitch_mm=0\.3", "--set", "pitch_mm=0.3")

    def test_override_without_value(self):
        self.refuse(r"--set: probe\.pitch_mm: not a setting; write KEY=VALUE", "--set", "probe.pitch_mm")

    def test_too_little_memory(self):
        self.refused(3, r"this run needs .* of memory and may use .*; allow more with --memory-gib, .*", "simulate",
                     "./phantom.toml", "--probe", "./probe.toml", "--scan", "./lines.toml", "--memory-gib", "0.001",
                     notes=True)


class Recordings(Bench):
    def setUp(self):
        super().setUp()
        self.simulate()

    def refuse(self, pattern, recording="recording.h5", recipe="./recipe.toml", *more):
        return self.refused(2, pattern, "reconstruct", recording, "--recipe", recipe, *more)

    def test_no_such_recording(self):
        self.refuse(r"nothing\.h5: no such file.*", "nothing.h5")

    def test_foreign_file(self):
        self.write("notes.h5", "these are notes\n" * 100)
        self.refuse(r"notes\.h5: .*HDF5.*", "notes.h5")

    def test_foreign_hdf5(self):
        import h5py
        with h5py.File(self.folder / "foreign.h5", "w") as file:
            file["temperature"] = [1.0, 2.0]
        self.refuse(r'foreign\.h5: .*give a file whose format is "echoloom recording"', "foreign.h5")

    def test_truncated_recording(self):
        whole = (self.folder / "recording.h5").read_bytes()
        for part in (0.99, 0.6, 0.1, 0.001):
            (self.folder / "cut.h5").write_bytes(whole[: int(len(whole) * part)])
            self.refuse(r"cut\.h5: .+", "cut.h5")

    def test_empty_file(self):
        self.write("empty.h5", "")
        self.refuse(r"empty\.h5: .+", "empty.h5")

    def test_incomplete_recording(self):
        import h5py
        with h5py.File(self.folder / "recording.h5", "r+") as file:
            del file.attrs["complete"]
        self.refuse(r"recording\.h5: .*complete.*")

    def test_version_of_the_future(self):
        import h5py
        with h5py.File(self.folder / "recording.h5", "r+") as file:
            file.attrs.modify("format_version", 99)
        self.refuse(r"recording\.h5: .*version.*99.*")

    def test_negative_sampling_rate(self):
        import h5py
        with h5py.File(self.folder / "recording.h5", "r+") as file:
            file["receive/sampling_rate_Hz"][...] = -40e6
        self.refuse(r"recording\.h5: .*sampling_rate_Hz.*")

    def test_listening_element_out_of_range(self):
        import h5py
        with h5py.File(self.folder / "recording.h5", "r+") as file:
            file["receive/element"][0, 0] = 400
        self.refuse(r"recording\.h5: .*element.*400.*")

    def test_changed_sample_is_found_by_verify(self):
        import h5py
        self.assertIn("verified", self.done("show", "recording.h5", "--verify"))
        with h5py.File(self.folder / "recording.h5", "r+") as file:
            file["receive/rf"][0, 0, 5] += 1.0
        self.refused(2, r"recording\.h5: .*digest.*", "show", "recording.h5", "--verify", notes=True)

    def test_recipe_for_another_kind_of_scan(self):
        self.write("angles.toml", '[transmit]\nangle_window = "hann"\n')
        self.refuse(r"\./angles\.toml:2: transmit\.angle_window: this recipe is for plane-wave recordings, and this one "
                    r"is a scan of lines; use e\.g\. dynamic_focus or growing_aperture, .*", recipe="./angles.toml")
        self.refuse(r".*/synthetic_focus\.toml:10: transmit\.weights: this recipe is for full-matrix recordings, .*; "
                    r"use e\.g\. dynamic_focus .*", recipe="synthetic_focus")
        self.simulate("planes.h5", "./planes.toml")
        self.refuse(r".*/synthetic_focus\.toml:10: .*this one holds plane waves; use e\.g\. plane_wave_compound, .*",
                    "planes.h5", "synthetic_focus")

    def test_grid_recipe_on_lines(self):
        self.write("grid.toml", "[grid]\nx_mm = [-5, 5]\n")
        self.refuse(r"\./grid\.toml:2: grid\.x_mm: is for images of pixels.*; remove the key", recipe="./grid.toml")

    def test_recipe_deeper_than_the_recording(self):
        self.write("deep.toml", "[grid]\ndepth_mm = 80\n")
        self.refuse(r"\./deep\.toml:2: grid\.depth_mm: the recording ends at .* mm.*", recipe="./deep.toml")

    def test_aperture_wider_than_the_recording(self):
        line = self.change("fixed.toml", "focus_depth_mm = 10.0", "focus_depth_mm = 10.0\nmax_elements = 64") + 1
        self.refuse(rf"\./fixed\.toml:{line}: receive\.max_elements: .*64.*16.*", recipe="./fixed.toml")

    def test_misspelt_recipe_key(self):
        line = self.change("recipe.toml", 'window = "hann"', 'windows = "hann"')
        self.refuse(rf"\./recipe\.toml:{line}: receive\.windows: unknown key, did you mean 'window'\?")

    def test_unknown_window(self):
        line = self.change("recipe.toml", '"hann"', '"han"')
        self.refuse(rf"\./recipe\.toml:{line}: receive\.window: is the text \"han\"; .*did you mean 'hann'\?")

    def test_weights_file_that_is_not_there(self):
        line = self.change("recipe.toml", 'window = "hann"', 'weights_file = "w.txt"')
        self.refuse(rf"\./recipe\.toml:{line}: receive\.weights_file: .*w\.txt.*")

    def test_one_bad_recipe_of_two_stops_before_any_work(self):
        self.write("bad.toml", "[receive]\nfocus = \"fixed\"\n")
        self.refuse(r"\./bad\.toml:.*receive\.focus: .*focus_depth_mm.*", "recording.h5", "./recipe.toml", "--recipe",
                    "./bad.toml")

    def test_settings_of_recipes_have_a_prefix(self):
        self.refuse(r"--set: receive\.f_number: does not begin with the name of its file; write recipe\.receive\.f_number=3",
                    "recording.h5", "./recipe.toml", "--set", "receive.f_number=3")
        self.refuse(r"--set: recipe\.receive\.f_numbr: unknown key, did you mean 'recipe\.receive\.f_number'\?",
                    "recording.h5", "./recipe.toml", "--set", "recipe.receive.f_numbr=3")
        self.refuse(r"--set: recipe\.receive\.f_number: is -3; .*", "recording.h5", "./recipe.toml", "--set",
                    "recipe.receive.f_number=-3")
        self.refuse(r"--set: recipe\.receive\.max_elements: .*64.*16.*", "recording.h5", "./fixed.toml", "--set",
                    "recipe.receive.max_elements=64")
        self.refuse(r"--set: recipe\.receive\.\.f_number: not a key; .*", "recording.h5", "./recipe.toml", "--set",
                    "recipe.receive..f_number=3")
        self.refuse(r"--set: recipe\.receive\.weights: '\[1,' is not a TOML value; .*", "recording.h5", "./recipe.toml", "--set",
                    "recipe.receive.weights=[1,")

    def test_two_recipes_of_one_name(self):
        self.refuse(r"--recipe: two recipes are named 'recipe' .*", "recording.h5", "./recipe.toml", "--recipe",
                    "./recipe.toml")

    def test_one_file_for_two_images(self):
        self.refuse(r"--output: names one image, and there are 2 recipes; give a folder", "recording.h5",
                    "./recipe.toml", "--recipe", "./fixed.toml", "-o", "image.h5")

    def test_recording_where_an_image_belongs(self):
        self.refused(2, r"recording\.h5: .*image.*", "measure", "recording.h5")

    def test_image_where_a_recording_belongs(self):
        self.reconstruct("-o", "image.h5")
        self.refuse(r"image\.h5: .*recording.*", "image.h5")

    def test_truncated_image(self):
        self.reconstruct("-o", "image.h5")
        whole = (self.folder / "image.h5").read_bytes()
        (self.folder / "cut.h5").write_bytes(whole[: len(whole) // 2])
        self.refused(2, r"cut\.h5: .+", "measure", "cut.h5")
        self.refused(2, r"cut\.h5: .+", "show", "cut.h5")

    def test_nothing_to_measure(self):
        self.write("plain.toml", "[medium]\nsound_speed_m_s = 1540.0\n" +
                   (self.folder / "phantom.toml").read_text().split("\n\n")[-1])
        self.done("simulate", "./plain.toml", "--probe", "./probe.toml", "--scan", "./lines.toml", "-o", "plain.h5", "-q")
        self.reconstruct("-o", "image.h5", recording="plain.h5")
        self.refused(2, r"image\.h5: its recording contains no true points.*", "measure", "image.h5", "--correlation")


if __name__ == "__main__":
    unittest.main()
