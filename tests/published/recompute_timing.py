"""Delays, ranges and frame rates: when echoes come, by distance over speed alone.

Delay law: O. T. von Ramm & S. W. Smith, "Beam steering with linear arrays", IEEE Trans. BME 30, 438-452, 1983 (from memory), an
element at x fires (R - |focus - element|) / c later. Range: half of speed times time, so that a depth is shown at its own times
assumed over true speed. Frame rate: c / (2 depth lines zones), J. T. Bushberg et al., The Essential Physics of Medical Imaging,
ch. 14; F. W. Kremkau's and W. R. Hedrick's textbooks (from memory). The rule of 13 us a centimetre is 0.1 % long.
"""

import re

import numpy as np

from quoted import Quoted, text_of

C = 1540.0


def numbers(text):
    return re.findall(r"-?[\d.]+", text)


def delay_ns(x_mm, range_mm, angle_deg):
    """From two places in the plane, by their distance."""
    focus = range_mm * np.array([np.sin(np.radians(angle_deg)), np.cos(np.radians(angle_deg))])
    return (range_mm - np.linalg.norm(focus - np.array([x_mm, 0.0]))) * 1e-3 / C * 1e9


def delays(quoted):
    tables = re.findall(r"=\s*(\{.*?)\};", text_of("published/delays.h"), re.DOTALL)
    places, rows, parabolas = (numbers(table) for table in tables)  # x; range, angle, delays; range, angle, x, error
    assert (len(places), len(rows), len(parabolas)) == (6, 2 * (2 + 6), 4 * 4)
    quoted.section("delays.h: elements at x, focus at a range and an angle (ns)")
    for row in (rows[:8], rows[8:]):
        range_mm, angle_deg = row[:2]
        for x_mm, digits in zip(places, row[2:], strict=True):
            quoted.hold(f"R = {range_mm} mm, {angle_deg} deg, x = {x_mm} mm",
                        delay_ns(float(x_mm), float(range_mm), float(angle_deg)), digits)
    quoted.section("delays.h: what the parabola (x sin a - x^2 cos^2 a / (2 R)) / c adds (ns)")
    for range_mm, angle_deg, x_mm, digits in (parabolas[i:i + 4] for i in range(0, 16, 4)):
        R, angle, x = float(range_mm), np.radians(float(angle_deg)), float(x_mm)
        parabola = (x * np.sin(angle) - (x * np.cos(angle))**2 / (2 * R)) * 1e6 / C
        quoted.hold(f"R = {range_mm} mm, {angle_deg} deg, x = {x_mm} mm", parabola - delay_ns(x, R, float(angle_deg)), digits)


def ranges(quoted):
    quoted.section("1540 m/s assumed in a medium of another speed")
    for speed, factor, shown in ((1480, "1.040541", "52.0270"), (1500, "1.026667", "51.3333"), (1600, "0.962500", "48.1250")):
        # Time to the point and back, then depth from that time.
        time = 2 * 50e-3 / speed
        quoted.hold(f"{speed} m/s: depth shown over true depth", C * time / 2 / 50e-3, factor, "beamform/line_test.cpp")
        quoted.hold("  50 mm are shown at (mm)", C * time / 2 * 1e3, shown, "published/physics.py",
                    *(("measure/search_test.cpp",) if speed == 1480 else ()))


def rates(quoted):
    quoted.section("Round trips and frame rates")
    quoted.hold("to 1 cm and back (us)", 0.02 / C * 1e6, "12.987013", "published/frame_rate.py")
    quoted.hold("to 100 mm and back (us)", 0.2 / C * 1e6, "129.87", "array/swept_test.cpp")
    quoted.hold("to 77 mm and back (us)", 0.154 / C * 1e6, "100", "image/scan_captions_test.cpp")
    quoted.hold("to 5 mm (us)", 0.005 / C * 1e6, "3.247", "cli/test_wavefronts.py")
    for depth_mm, lines, zones, digits, test in (
            (100, 100, 1, "77.0000", "published/frame_rate.py"), (200, 128, 1, "30.0781", "published/frame_rate.py"),
            (160, 120, 1, "40.1042", "published/frame_rate.py"), (150, 128, 2, "20.0521", "published/frame_rate.py"),
            (100, 100, 3, "25.6667", "published/frame_rate.py"), (150, 200, 1, "25.667", "cli/test_command_line.py"),
            (18, 3, 1, "14259.3", "cli/test_command_line.py"), (150, 128, 2, "20.1", "image/scan_captions_test.cpp"),
            (150, 255, 1, "20.1", "image/scan_captions_test.cpp"), (77, 33, 1, "303", "image/scan_captions_test.cpp"),
            (77, 9, 1, "1111", "image/scan_captions_test.cpp"), (154, 9, 1, "556", "image/scan_captions_test.cpp")):
        quoted.hold(f"{depth_mm} mm, {lines} lines, {zones} zone{'s' if zones > 1 else ''} (Hz)",
                    C / (2 * depth_mm * 1e-3 * lines * zones), digits, test)


def main():
    quoted = Quoted(__doc__)
    for part in (delays, ranges, rates):
        part(quoted)
    quoted.finish()


if __name__ == "__main__":
    main()
