"""What the plain versions that the benchmark times have in common.

    SCRIPT.py FOLDER [--fraction F]

FOLDER holds what the benchmark wrote: case.json and arrays as .npy. A script does its work, and prints one line of JSON: the
seconds it took without reading files, and how far the product's result is from its own."""

import argparse
import json
import time
from pathlib import Path

import numpy as np


class Case:
    """case.json's members as attributes; arrays of the folder by name."""

    def __init__(self, folder):
        self.folder = Path(folder)
        self.__dict__.update(json.loads((self.folder / "case.json").read_text()))

    def array(self, name):
        return np.load(self.folder / f"{name}.npy")


def arguments(description):
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("folder")
    parser.add_argument("--fraction", type=float, default=1.0, help="of the work; the caller scales the time")
    return parser.parse_args()


def relative_error(values, reference):
    """L2, of all values together."""
    return float(np.linalg.norm(values - reference) / np.linalg.norm(reference))


def timed(work):
    start = time.perf_counter()
    result = work()
    return time.perf_counter() - start, result


def say(**facts):
    print(json.dumps(facts))
