"""Holds our envelope to SciPy's signal.hilbert. usage: check_envelopes.py WRITE_ENVELOPES"""

import subprocess
import sys
import tempfile

import numpy as np
from scipy.signal import hilbert

with tempfile.NamedTemporaryFile() as file:
    said = subprocess.run([sys.argv[1], file.name], check=True, capture_output=True, text=True).stdout
    columns, depths, length = (int(word) for word in said.split())
    rf, ours = np.fromfile(file.name, np.float32).reshape(2, columns, depths).astype(np.float64)

theirs = np.abs(hilbert(rf, N=length, axis=1))[:, :depths]
worst = np.max(np.abs(ours - theirs)) / np.max(theirs)
print(f"same padding: worst difference {worst:.2e} of the peak")
assert worst < 2e-6

# With eight times the padding the ends no longer reach each other at all: what our padding leaves of that.
theirs = np.abs(hilbert(rf, N=8 * length, axis=1))[:, :depths]
worst = np.max(np.abs(ours - theirs)) / np.max(theirs)
print(f"padding eight times as long: worst difference {worst:.2e} of the peak")
assert worst < 3e-3
