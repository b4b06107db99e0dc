"""Writes what the command reads (phantom, probe, scan, recipe, each a nested dict of its TOML keys) and runs it."""

import json
import math
import os
import shutil
import subprocess
from pathlib import Path


def toml_value(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml_value(v) for v in value) + "]"
    if isinstance(value, int):
        return str(value)
    value = float(value)
    return "inf" if math.isinf(value) else repr(value)


def toml_text(table, prefix=""):
    """Scalars first, then sub-tables, then arrays of tables."""
    text = "".join(f"{k} = {toml_value(v)}\n" for k, v in table.items() if not is_table(v))
    for key, value in table.items():
        name = prefix + key
        if isinstance(value, dict):
            text += f"\n[{name}]\n" + toml_text(value, name + ".")
        elif is_table(value):
            text += "".join(f"\n[[{name}]]\n" + toml_text(v, name + ".") for v in value)
    return text


def is_table(value):
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


class Product:
    """The built command in a folder of its own."""

    def __init__(self, program, folder):
        self.program, self.folder = str(program), Path(folder)

    def write(self, name, table):
        path = self.folder / name
        path.write_text(toml_text(table))
        return path

    def run(self, *arguments):
        # Tests run many at a time: threads that spin while they wait for each other take the processor from one another.
        done = subprocess.run([self.program, *map(str, arguments)], capture_output=True, text=True, cwd=self.folder,
                              env=os.environ | dict(OMP_WAIT_POLICY="passive"))
        if done.returncode != 0:
            raise RuntimeError(f"{' '.join(map(str, arguments))} -> exit {done.returncode}: {done.stderr.strip()}")
        return done.stdout

    def simulate(self, phantom, probe, scan, name="recording"):
        output = self.folder / f"{name}.h5"
        output.unlink(missing_ok=True)
        self.run("simulate", self.write(f"{name}_phantom.toml", phantom), "--probe", self.write(f"{name}_probe.toml", probe),
                 "--scan", self.write(f"{name}_scan.toml", scan), "-o", output)
        return output

    def reconstruct(self, recording, recipe, name="picture"):
        """Path of the image file."""
        folder = self.folder / f"{name}_images"
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        self.run("reconstruct", recording, "--recipe", self.write(f"{name}.toml", recipe), "-o", folder)
        return folder / f"{name}.h5"


# ---- the four texts ----------------------------------------------------------------------------------------------------

def medium(sound_speed_m_s=1540.0, attenuation_dB_cm_MHz=0.0, attenuation_exponent=1.0, dispersive=False):
    return dict(sound_speed_m_s=sound_speed_m_s, attenuation_dB_cm_MHz=attenuation_dB_cm_MHz,
                attenuation_exponent=attenuation_exponent, dispersive=dispersive)


def linear_probe(elements, pitch_mm, width_mm, height_mm, center_MHz, bandwidth_percent, elevation_focus_mm=None,
                 baffle="rigid"):
    probe = dict(kind="linear", elements=elements, pitch_mm=pitch_mm, width_mm=width_mm, height_mm=height_mm,
                 center_MHz=center_MHz, bandwidth_percent=bandwidth_percent, baffle=baffle)
    if elevation_focus_mm is not None:
        probe["elevation_focus_mm"] = elevation_focus_mm
    return probe


def phased_probe(*arguments, **others):
    return linear_probe(*arguments, **others) | dict(kind="phased")


def curved_probe(radius_mm, *arguments, **others):
    return linear_probe(*arguments, **others) | dict(kind="curved", radius_mm=radius_mm)


def rows_probe(columns, rows, pitch_mm, width_mm, row_pitch_mm, height_mm, center_MHz, bandwidth_percent, baffle="rigid"):
    return dict(kind="rows", elements=columns, rows=rows, pitch_mm=pitch_mm, width_mm=width_mm, row_pitch_mm=row_pitch_mm,
                height_mm=height_mm, center_MHz=center_MHz, bandwidth_percent=bandwidth_percent, baffle=baffle)


def equal_rings_probe(rings, radius_mm, kerf_mm, center_MHz, bandwidth_percent):
    return dict(kind="annular", rings=rings, radius_mm=radius_mm, kerf_mm=kerf_mm, center_MHz=center_MHz,
                bandwidth_percent=bandwidth_percent)


def rings_probe(edges_mm, center_MHz, bandwidth_percent):
    """Inner and outer radius of one ring after the other."""
    return dict(kind="annular", ring_edges_mm=list(map(float, edges_mm)), center_MHz=center_MHz,
                bandwidth_percent=bandwidth_percent)


def full_matrix(sampling_MHz, depth_mm, min_depth_mm=0.0, **others):
    return dict(kind="full_matrix", sampling_MHz=sampling_MHz, depth_mm=depth_mm, min_depth_mm=min_depth_mm, **others)


def plane_waves(sampling_MHz, angles_deg, depth_mm, min_depth_mm=0.0, **others):
    return dict(kind="plane_waves", angles_deg=list(angles_deg), sampling_MHz=sampling_MHz, depth_mm=depth_mm,
                min_depth_mm=min_depth_mm, **others)


def focused_lines(sampling_MHz, lines, focus_mm, transmit_elements, depth_mm, min_depth_mm=0.0, **others):
    return dict(kind="focused", lines=lines, focus_depth_mm=focus_mm, transmit_elements=transmit_elements,
                sampling_MHz=sampling_MHz, depth_mm=depth_mm, min_depth_mm=min_depth_mm, **others)


def sector_lines(sampling_MHz, lines, max_angle_deg, focus_mm, depth_mm, min_depth_mm=0.0, **others):
    return dict(kind="sector", lines=lines, max_angle_deg=max_angle_deg, focus_depth_mm=focus_mm,
                sampling_MHz=sampling_MHz, depth_mm=depth_mm, min_depth_mm=min_depth_mm, **others)


def diverging_waves(sampling_MHz, sources_mm, behind_mm, depth_mm, min_depth_mm=0.0, **others):
    return dict(kind="diverging_waves", sources_mm=list(map(float, sources_mm)), source_behind_mm=behind_mm,
                sampling_MHz=sampling_MHz, depth_mm=depth_mm, min_depth_mm=min_depth_mm, **others)


def swept(sampling_MHz, lines, focus_mm, depth_mm, min_depth_mm=0.0, rotation_rate_rpm=300.0, window_half_angle_deg=30.0,
          axis_to_face_mm=0.0, heads=1, standing=False, **others):
    return dict(kind="swept", lines_per_sweep=lines, focus_depth_mm=focus_mm, sampling_MHz=sampling_MHz, depth_mm=depth_mm,
                min_depth_mm=min_depth_mm, rotation_rate_rpm=rotation_rate_rpm,
                window_half_angle_deg=window_half_angle_deg, axis_to_face_mm=axis_to_face_mm, heads=heads,
                standing=standing, **others)


def points_phantom(points, medium):
    """Points (x, y, z in mm, strength in dB re 1 mm)."""
    return dict(medium=medium, point=[dict(position_mm=list(map(float, p[:3])), strength_dB=float(p[3])) for p in points])


def speckle_phantom(box_mm, density_per_mm3, seed):
    """One box ((x from, to), (y from, to), (z from, to)) of random scatterers."""
    center = [float(low + high) / 2 for low, high in box_mm]
    size = [float(high - low) for low, high in box_mm]
    return dict(seed=seed, medium=medium(), speckle=[dict(shape="box", center_mm=center, size_mm=size,
                                                          density_per_mm3=float(density_per_mm3))])
