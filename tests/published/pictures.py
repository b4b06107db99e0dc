"""Reads image files: the envelope [column, depth] and where its samples lie."""

from dataclasses import dataclass

import h5py
import numpy as np


@dataclass
class LinePicture:
    envelope: np.ndarray  # [line, depth]
    line_x_m: np.ndarray  # where each line leaves the face
    depth_m: np.ndarray  # along the line


@dataclass
class GridPicture:
    envelope: np.ndarray  # [x, depth]
    x_m: np.ndarray
    depth_m: np.ndarray


def line_picture(path):
    with h5py.File(path, "r") as file:
        return LinePicture(file["envelope"][...].astype(float), file["grid/origin_m"][:, 0], file["grid/depth_m"][...])


def grid_picture(path):
    with h5py.File(path, "r") as file:
        return GridPicture(file["envelope"][...].astype(float), file["grid/x_m"][...], file["grid/depth_m"][...])
