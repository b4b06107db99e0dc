"""The Debian package: what it says of itself, and that its program runs from where it was unpacked."""

import os
import subprocess
import unittest

from elsewhere import BUILD, Elsewhere, forget, namespace


class Package(Elsewhere):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        subprocess.run([os.environ["CPACK"], "--config", BUILD / "CPackConfig.cmake", "-B", cls.folder], cwd=cls.folder, check=True,
                       capture_output=True)
        (cls.package,) = cls.folder.glob("echoloom_*.deb")
        cls.root = cls.folder / "root"
        subprocess.run(["dpkg", "-x", cls.package, cls.root], check=True)

    def field(self, name):
        return subprocess.run(["dpkg-deb", "-f", self.package, name], capture_output=True, text=True, check=True).stdout.strip()

    def test_says_what_it_needs(self):
        self.assertEqual(self.field("Package"), "echoloom")
        self.assertEqual(self.field("Section"), "science")
        self.assertIn("not for diagnosis", " ".join(self.field("Description").split()))
        needed = self.field("Depends")
        for package in ("fonts-dejavu-core", "gnuplot-nox", "libc6 (>=", "libfftw3-single3", "libstdc++6"):
            self.assertIn(package, needed)
        self.assertNotIn("-dev", needed)

    def test_lies_where_debian_looks(self):
        for file in ("bin/echoloom", "share/echoloom/phantoms/single_point.toml", "share/man/man1/echoloom-simulate.1",
                     "share/bash-completion/completions/echoloom", "share/zsh/vendor-completions/_echoloom",
                     "share/fish/vendor_completions.d/echoloom.fish", "share/doc/echoloom/copyright"):
            self.assertTrue((self.root / "usr" / file).is_file(), file)
        self.assertEqual([path.name for path in self.root.iterdir()], ["usr"])

    def test_runs_where_it_is_unpacked(self):
        program = self.root / "usr/bin/echoloom"
        if not namespace():
            forget(program)
        self.assertIn(f"{self.root}/usr/share/echoloom/phantoms", self.shipped(program))
        self.done(program, "simulate", "single_point", "--probe", "linear_5MHz", "--scan", "plane_wave_single", "-q", "-o", "point.h5")
        self.done(program, "reconstruct", "point.h5", "--recipe", "plane_wave_compound", "-q")


if __name__ == "__main__":
    unittest.main()
