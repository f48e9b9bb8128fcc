"""Readings to passages with Polars, NumPy and SciPy, vectorised: read, filter, segment, measure. Keeps nothing.

Prints rows, sums of the plates, passages and their mean weight as JSON.
"""

import json
import sys

import numpy as np
import polars as pl
from scipy.signal import bessel, sosfilt

PLATES = ["lf", "rf", "lr", "rr"]
# As the program has them: on above, off below, kg; the deck is empty for so long, s; filter, Hz.
ON, OFF, EMPTY, CORNER = 25.0, 15.0, 0.5, 5.0
# A longer gap between readings ends a stretch, s.
GAP = 2.0
# Readings of a minute at 100 Hz.
BLOCK = 6000


def passages(time, loads):
    """Indices of the first and last reading of each passage of one stretch."""
    rate = 1.0 / np.median(np.diff(time[:2000]))
    # The zero: the lowest loads of each minute, a straight line between.
    blocks = len(loads) // BLOCK
    lowest = np.partition(loads[: blocks * BLOCK].reshape(blocks, BLOCK, 4), BLOCK // 20, axis=1)[:, BLOCK // 20]
    middle = BLOCK * (np.arange(blocks) + 0.5)
    places = np.arange(len(loads))
    loads = loads - np.column_stack([np.interp(places, middle, lowest[:, plate]) for plate in range(4)])
    filtered = sosfilt(bessel(4, CORNER, fs=rate, norm="mag", output="sos"), loads, axis=0)
    # A stretch begins anew at each gap: the deck is taken as empty there.
    total = filtered.sum(axis=1)
    state = np.zeros(len(total), np.int8)
    state[total > ON] = 1
    state[(total < OFF) & (filtered < OFF).all(axis=1)] = -1
    state[np.flatnonzero(np.diff(time) > GAP) + 1] = -1
    known = np.flatnonzero(state)
    on = state[known] > 0
    edges = np.flatnonzero(np.diff(on.astype(np.int8), prepend=0, append=0))
    starts = known[edges[0::2]]
    ends = known[np.minimum(edges[1::2], len(known) - 1)]
    apart = np.flatnonzero(time[starts[1:]] - time[ends[:-1]] >= EMPTY)
    return starts[np.r_[0, apart + 1]], ends[np.r_[apart, len(ends) - 1]], filtered, total


def main(path):
    table = pl.read_csv(path, schema={"time": pl.Float64, **dict.fromkeys(PLATES, pl.Float32)})
    time, loads = table["time"].to_numpy(), table.select(PLATES).to_numpy()
    sums = loads.sum(axis=0, dtype=np.float64)
    starts, ends, _, total = passages(time, loads)
    # The weight: the median of the filtered total while she is wholly on.
    weights = [np.median(part[part > 0.8 * part.max()]) for part in map(lambda s, e: total[s:e], starts, ends)]
    print(json.dumps({
        "rows": len(time),
        "sums": sums.round(1).tolist(),
        "passages": len(starts),
        "weight": float(np.mean(weights)),
    }))


main(sys.argv[1])
