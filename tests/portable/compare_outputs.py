"""Recordings and images of the same inputs by two builds of the program, or by one build as on two machines.

    compare_outputs.py identical|BOUND PROGRAM -- [NAME=VALUE ...] COMMAND ...

Every case is simulated and reconstructed by PROGRAM and again by COMMAND; the images are formed from PROGRAM's recording by
both, so that a difference is the reconstruction's own. `identical` wants the same bytes; BOUND is the largest difference
allowed, relative in the L2 norm, of a channel's samples over all events and of an image's envelope; where samples are rounded
to bits the least difference makes some of them fall on the other side of a step, and as much as ROUNDED is. Says what it found.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import h5py
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reference"))
import array_cases  # noqa: E402
import scenario  # noqa: E402

RATE = 30.0
ROUNDED = 1e-3  # a step of 12 bits is 2^-11 of the largest sample, and few samples cross one
GROWING = '[receive]\naperture = "growing"\nf_number = 1.5\nwindow = "hann"\n'


def cases():
    """Name, probe, scan, scan's further keys, route, recipes: every family of arrays, both routes, lines and pixels."""
    flat = scenario.linear_probe(**(array_cases.FLAT | dict(elements=24)), elevation_focus_mm=25.0)
    curved = array_cases.curved(elements=16)
    phased = scenario.phased_probe(**(array_cases.PHASED | dict(elements=16)))
    rows = scenario.rows_probe(**(array_cases.ROWS | dict(columns=8)))
    planes = scenario.plane_waves(RATE, [-5.0, 0.0, 7.0], 34.0, 14.0)
    lines = scenario.focused_lines(RATE, 5, 25.0, 8, 34.0, 14.0)
    yield "planes, matrix", flat, planes, "matrix", [GROWING, GROWING + 'interpolation = "linear"\n']
    yield "planes, direct", flat, planes, "direct", ['interpolation = "cubic"\n' + GROWING]
    yield "lines, noise and 12 bits", flat, lines | dict(noise_snr_dB=30.0, quantization_bits=12), "matrix", [
        GROWING, '[receive]\nfocus = "fixed"\nfocus_depth_mm = 25\n', '[transmit]\nfocus = "retrospective"\n']
    yield "full matrix", flat, scenario.full_matrix(RATE, 34.0, 14.0), "matrix", [GROWING]
    yield "curved lines", curved, scenario.focused_lines(RATE, 3, 25.0, 8, 34.0, 14.0, receive_elements=12), "matrix", [GROWING]
    yield "sector", phased, scenario.sector_lines(RATE, 3, 45.0, 25.0, 34.0, 14.0), "matrix", [GROWING]
    yield "rows", rows, scenario.focused_lines(RATE, 3, 25.0, 6, 34.0, 14.0, receive_elements=6), "direct", [GROWING]
    yield "diverging", phased, scenario.diverging_waves(RATE, [-1.5, 1.5], 6.0, 34.0, 14.0), "direct", [GROWING]
    yield "rings, turning", array_cases.RINGS, scenario.swept(RATE, 3, 25.0, 34.0, 14.0, axis_to_face_mm=8.0,
                                                              rotation_rate_rpm=1200.0), None, [""]


def phantom():
    points = scenario.points_phantom([(1.0, 0.0, 20.0, 10.0), (-5.0, 1.5, 28.0, 10.0)],
                                     scenario.medium(attenuation_dB_cm_MHz=0.5))
    return scenario.speckle_phantom(box_mm=((-8, 8), (-2, 2), (18, 32)), density_per_mm3=0.5, seed=5) | points


def run(command, folder, *words):
    done = subprocess.run([*command, *map(str, words), "--force", "--quiet"], cwd=folder, capture_output=True, text=True,
                          env=os.environ | dict(OMP_WAIT_POLICY="passive"))
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)} {words}: exit {done.returncode}: {done.stderr}")


def relative(one, other):
    """Largest over the rows of |one - other| / |one|."""
    def rows(array):  # [channel, event and sample], or a picture as a whole
        return np.moveaxis(array, 1, 0).reshape(array.shape[1], -1) if array.ndim == 3 else array.reshape(1, -1)

    one, other = rows(one.astype(float)), rows(other.astype(float))
    return float((np.linalg.norm(one - other, axis=1) / np.maximum(np.linalg.norm(one, axis=1), 1e-300)).max())


def differences(reference, variant, folder):
    """(what, same bytes, relative difference) of every output."""
    (folder / "phantom.toml").write_text(scenario.toml_text(phantom()))
    for name, probe, scan, route, recipes in cases():
        (folder / "probe.toml").write_text(scenario.toml_text(probe))
        (folder / "scan.toml").write_text(scenario.toml_text(scan))
        words = ["simulate", "./phantom.toml", "--probe", "./probe.toml", "--scan", "./scan.toml"]
        words += ["--route", route] if route else []
        run(reference, folder, *words, "-o", "one.h5")
        run(variant, folder, *words, "-o", "other.h5")
        yield name, *compared(folder, "one.h5", "other.h5", "receive/rf")
        for number, recipe in enumerate(recipes):
            top = "".join(line + "\n" for line in recipe.splitlines() if line.startswith("interpolation"))
            rest = "".join(line + "\n" for line in recipe.splitlines() if not line.startswith("interpolation"))
            (folder / "recipe.toml").write_text(top + rest)
            for command, image in ((reference, "one_image.h5"), (variant, "other_image.h5")):
                run(command, folder, "reconstruct", "one.h5", "--recipe", "./recipe.toml", "-o", image)
            yield f"{name}: image {number}", *compared(folder, "one_image.h5", "other_image.h5", "envelope")


def compared(folder, one, other, dataset):
    same = (folder / one).read_bytes() == (folder / other).read_bytes()
    with h5py.File(folder / one) as first, h5py.File(folder / other) as second:
        return same, relative(first[dataset][...], second[dataset][...])


def main():
    if len(sys.argv) < 5 or sys.argv[3] != "--":
        sys.exit(__doc__)
    wanted, program, variant = sys.argv[1], sys.argv[2], sys.argv[4:]
    variant = ["env", *variant] if "=" in variant[0] else variant
    bound = 0.0 if wanted == "identical" else float(wanted)
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for what, same, apart in differences([program], variant, Path(folder)):
            allowed = max(bound, ROUNDED) if what.endswith(" bits") else bound
            within = same if wanted == "identical" else apart <= allowed
            bad += not within
            print(f"{what:32} {'same bytes' if same else f'differs by {apart:.1e}'}{'' if within else '   TOO MUCH'}", flush=True)
    if bad:
        sys.exit(f"{bad} outputs differ by more than {'nothing' if wanted == 'identical' else bound}")


if __name__ == "__main__":
    main()
