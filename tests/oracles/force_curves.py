"""Measured vertical forces under the feet of ten people walking at known speeds, integrated directly.

Source: the data that PyPI spm1d 0.4.55 carries (Pataky 2008, J Biomech 41:1987): 60 trials a person, 101 points over one
stance, in units of its own. Only sums of them are recorded here; the curves themselves are read where they are installed.
"""
import importlib.util
import json
import pathlib

import numpy as np
from scipy import signal, stats

data = pathlib.Path(importlib.util.find_spec("spm1d").origin).parent / "data" / "datafiles"
curves = np.array([np.load(data / f"ex_grf_subj{person:03d}.npy") for person in range(10)])
speeds = np.load(data / "ex_grf_speeds.npy").T
RATE_HZ = 100.0
STANCES_S = [0.6, 0.8, 1.0, 1.3]
low_pass = signal.bessel(4, 5.0, fs=RATE_HZ, norm="mag", output="sos")


def filtered_peak(force, stance_s):
    """The peak behind the analyser's low-pass, of the curve as plates see it at 100 Hz."""
    part = np.arange(0, stance_s, 1 / RATE_HZ) / stance_s
    load = np.concatenate([np.interp(part, np.linspace(0, 1, len(force)), force), np.zeros(50)])
    return signal.sosfilt(low_pass, load).max()


def figures(values):
    return [float(f"{x:.6g}") for x in values]


people = []
for force, speed in zip(curves, speeds):
    peak = force.max(axis=1)
    behind = {str(t): [filtered_peak(one, t) for one in force] for t in STANCES_S}
    people.append(
        {
            "peaks": figures(peak),
            "means": figures(np.trapezoid(force, dx=0.01, axis=1)),
            "filtered_peaks": {t: figures(x) for t, x in behind.items()},
            "rise": {t: float(f"{stats.linregress(speed, x).slope:.6g}") for t, x in behind.items()},
        }
    )
print(json.dumps({"source": "numpy.trapezoid, scipy.signal.bessel and sosfilt, scipy.stats.linregress", "people": people}))
