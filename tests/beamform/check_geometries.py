"""The program's images of every geometry against tests/reference/delay_and_sum.py: simulated with the engine, formed by the
program with plain weights, and summed again here from the recording's own numbers."""

import pathlib
import subprocess
import sys
import tempfile

import h5py
import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent.parent / "reference"))
import delay_and_sum  # noqa: E402

PULSE = "center_MHz = 3.0\nbandwidth_percent = 60.0\n"
FLAT = "elements = 32\npitch_mm = 0.3\nwidth_mm = 0.27\nheight_mm = 5.0\n" + PULSE
PROBES = {
    "flat": 'kind = "linear"\n' + FLAT,
    "phased": 'kind = "phased"\n' + FLAT,
    "curved": 'kind = "curved"\nradius_mm = 30.0\n' + FLAT,
    "rows": 'kind = "rows"\nrows = 3\nrow_pitch_mm = 2.0\n' + FLAT.replace("5.0\n", "1.9\n"),
    "rings": 'kind = "annular"\nrings = 5\nradius_mm = 6.0\n' + PULSE,
}
ECHOES = "sampling_MHz = 30.0\ndepth_mm = 34.0\n"
SCANS = {
    "matrix": 'kind = "full_matrix"\n' + ECHOES,
    "planes": 'kind = "plane_waves"\nangles_deg = [-10.0, 4.0]\n' + ECHOES,
    "diverging": 'kind = "diverging_waves"\nsource_behind_mm = 8.0\nsources_mm = [-3.0, 0.0, 2.0]\n' + ECHOES,
    "lines": 'kind = "focused"\nlines = 16\nfocus_depth_mm = 20.0\ntransmit_elements = 16\nreceive_elements = 32\n' + ECHOES,
    "sector": 'kind = "sector"\nlines = 9\nmax_angle_deg = 30.0\nfocus_depth_mm = 20.0\n' + ECHOES,
    "swept": ('kind = "swept"\nheads = 1\nrotation_rate_rpm = 60.0\nwindow_half_angle_deg = 20.0\naxis_to_face_mm = 6.0\n'
              "standing = true\nlines_per_sweep = 5\nfocus_depth_mm = 20.0\n" + ECHOES),
}
PHANTOM = "[medium]\nsound_speed_m_s = 1540.0\n" + "\n".join(f"[[point]]\nposition_mm = {place}\nstrength_dB = 0.0" for place in
                    ([0.0, 0.0, 12.0], [-4.0, 0.5, 20.0], [3.0, 0.0, 26.0]))
CASES = [("flat", "diverging", ""), ("curved", "matrix", ""), ("curved", "diverging", ""), ("phased", "planes", ""),
         ("phased", "matrix", ""), ("rows", "planes", ""), ("curved", "lines", ""), ("rows", "lines", ""),
         ("phased", "sector", ""), ("rings", "swept", ""), ("flat", "lines", "retrospective"),
         ("curved", "lines", "retrospective"), ("phased", "sector", "retrospective")]


def write(folder, name, text):
    path = folder / (name + ".toml")
    path.write_text(text)
    return str(path)


def run(program, *words):
    result = subprocess.run([program, *words, "--quiet"], capture_output=True, text=True)
    if result.returncode != 0:
        sys.exit(f"{' '.join(words)}: {result.stderr}")


def transmit_path(recording, event, points, c):
    """From time zero to each point, and the event's weight there."""
    of = {key: recording[f"transmit/{key}"][event] for key in ("kind", "origin_m", "direction", "focus_m", "weight", "delay_s")}
    kind = of["kind"].decode() if isinstance(of["kind"], bytes) else str(of["kind"])
    centers = recording["probe/element_center_m"][:]
    if kind == "plane":
        return (points - of["origin_m"]) @ of["direction"], np.ones(len(points))
    if kind == "element":
        element = int(np.argmax(of["weight"]))
        return np.linalg.norm(points - centers[element], axis=1), np.ones(len(points))
    if kind == "diverging":
        way = np.linalg.norm(points - of["focus_m"], axis=1) - np.linalg.norm(of["origin_m"] - of["focus_m"])
        return way, np.ones(len(points))
    # Focused, retrospective: rays from the firing elements' outer edges through the focus.
    axis, focus = of["direction"], of["focus_m"]
    normals = recording["probe/element_normal"][:]
    edges = []
    for element in np.flatnonzero(of["weight"]):
        lateral = np.array([normals[element][2], 0.0, -normals[element][0]])
        edges += [centers[element] + side * 0.15e-3 * lateral - focus for side in (-1, 1)]
    edges = np.array(edges)
    aside = edges @ np.array([axis[2], 0.0, -axis[0]])
    slopes = aside / (edges @ axis)
    reach = np.linalg.norm(focus - of["origin_m"])
    f_number = reach / np.ptp(aside)
    wavelength = c / 3.0e6
    u = (points - focus) @ axis
    v = (points - focus) @ np.array([axis[2], 0.0, -axis[0]])
    across = (v - 0.5 * (slopes.min() + slopes.max()) * u) / np.hypot(0.5 * np.ptp(slopes) * u, wavelength * f_number)
    weight = np.where(np.abs(across) < 1.0, 0.5 + 0.5 * np.cos(np.pi * across), 0.0)
    return reach + u * np.sqrt(1.0 + v**2 / (u**2 + (1.6 * wavelength * f_number**2)**2)), weight


def expected(recording, image, lines_as_sent):
    """The sum at every point of the image's grid. All receive; an element counts by the share of its pitch within a stretch
    as long as the array, centred where the column leaves the face."""
    c = float(recording["medium/sound_speed_m_s"][()])
    rate = float(recording["receive/sampling_rate_Hz"][()])
    rf, start = recording["receive/rf"][:], recording["receive/start_time_s"][:]
    received = recording["receive/element"][:]
    centers = recording["probe/element_center_m"][:]
    depth = image["grid/depth_m"][:]
    if "grid/x_m" in image:
        x = image["grid/x_m"][:]
        origin = np.c_[x, 0 * x, 0 * x]
        direction = np.tile([0.0, 0.0, 1.0], (len(x), 1))
    else:
        origin, direction = image["grid/origin_m"][:], image["grid/direction"][:]
    radius = float(recording["probe/radius_m"][()]) if "probe/radius_m" in recording else 0.0

    def along(places):
        return radius * np.arctan2(places[:, 0], places[:, 2] + radius) if radius else places[:, 0]

    share = np.clip(16.5 - np.abs(along(centers)[None] - along(origin)[:, None]) / 0.3e-3, 0.0, 1.0)
    share /= share.sum(axis=1, keepdims=True)
    if lines_as_sent:
        columns = []
        for event in range(len(rf)):
            if "probe/element_ring_m" in recording:
                edges = recording["probe/element_ring_m"][:]
                halving = np.sqrt(0.5 * (edges**2).sum(axis=1))[received[event]]
                points, receive = np.c_[0 * depth, 0 * depth, depth], np.c_[halving, 0 * halving, 0 * halving]
                weights = np.full(len(halving), 1.0 / len(halving))
            else:
                points = origin[event] + depth[:, None] * direction[event]
                receive, weights = centers[received[event]], share[event][received[event]]
            columns.append(delay_and_sum.image(rf[event:event + 1], rate, start[event:event + 1], receive[None], c, points,
                                               depth[None], np.tile(weights[:, None], (1, len(points)))))
        return np.array(columns)
    points = (origin[:, None] + depth[None, :, None] * direction[:, None]).reshape(-1, 3)
    of_points = np.repeat(share, len(depth), axis=0).T
    total, weights = np.zeros(len(points), complex), np.zeros(len(points))
    for event in range(len(rf)):
        way, weight = transmit_path(recording, event, points, c)
        inside = weight > 0.0
        total[inside] += weight[inside] * delay_and_sum.image(rf[event:event + 1], rate, start[event:event + 1],
                                                              centers[received[event]][None], c, points[inside],
                                                              way[None, inside], of_points[received[event]][:, inside])
        weights += weight
    return (total / np.maximum(weights, 1e-9)).reshape(len(origin), len(depth))


def main(program):
    worst = 0.0
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        phantom = write(folder, "points", PHANTOM)
        for probe, scan, focus in CASES:
            recording, image = folder / "recording.h5", folder / "image.h5"
            recipe = "keep_rf = true\nhigh_pass_MHz = 0.0\n[transmit]\n" + ('focus = "retrospective"\n' if focus else "")
            recipe += 'weights = "equal"\n' if scan == "matrix" else ""
            recipe += "[grid]\nmin_depth_mm = 10.0\ndepth_mm = 28.0\n" + ("" if focus or scan in ("lines", "sector", "swept")
                                                                           else "depth_step_mm = 0.3\n")
            recipe += {"curved": "angle_step_deg = 1.5\n", "phased": "angle_step_deg = 5.0\n"}.get(probe, "x_step_mm = 0.5\n") \
                if scan in ("matrix", "planes", "diverging") else ""
            run(program, "simulate", phantom, "--probe", write(folder, "probe", PROBES[probe]), "--scan",
                write(folder, "scan", SCANS[scan]), "-o", str(recording), "--force")
            run(program, "reconstruct", str(recording), "--recipe", write(folder, "recipe", recipe), "-o", str(image), "--force")
            with h5py.File(recording) as r, h5py.File(image) as i:
                as_transmitted = "rf" in i
                wanted = expected(r, i, as_transmitted)
                found = i["rf"][:] if as_transmitted else i["iq/real"][:] + 1j * i["iq/imaginary"][:]
                wanted = wanted.real if as_transmitted else wanted
            error = np.linalg.norm(found - wanted) / np.linalg.norm(wanted)
            worst = max(worst, error)
            print(f"{probe:7} {scan:10} {focus:14} {found.shape}: relative error {error:.2e}")
    if not worst < 1e-3:
        sys.exit(f"greatest error {worst:.2e}, at most 1e-3 wanted, three times what interpolation costs")


main(sys.argv[1])
