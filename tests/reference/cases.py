"""What a case of the engine's accuracy is made of, for every family of arrays."""

from dataclasses import dataclass

import numpy as np

import scenario

STILL = scenario.medium()
LOSSY = scenario.medium(attenuation_dB_cm_MHz=0.5)
STEEP = scenario.medium(attenuation_dB_cm_MHz=0.7, attenuation_exponent=1.1, dispersive=True)
MEDIA = {"no loss": STILL, "0.5 dB/cm/MHz": LOSSY, "0.7 dB/cm/MHz^1.1, dispersive": STEEP}


@dataclass
class Case:
    name: str
    probe: dict
    medium: dict
    points: list  # (x, y, z in mm, strength in dB)
    kind: str = "full matrix"  # or "focused", "plane"
    scan: dict | None = None  # in place of one made for the kind


def at(range_mm, angle_deg=0.0, elevation_mm=0.0, by_depth=False):
    """A point `angle_deg` off axis, `range_mm` from the middle of the array (or that deep)."""
    angle = np.radians(angle_deg)
    depth = range_mm if by_depth else range_mm * np.cos(angle)
    return (round(float(depth * np.tan(angle)), 6), round(float(elevation_mm), 6), round(float(depth), 6), 0.0)
