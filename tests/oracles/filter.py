"""Frequency response, group delay and step overshoot of the load filter, from scipy.signal."""
import json

import numpy as np
import scipy
from scipy import signal

out = {"source": "scipy.signal.bessel(4, 5, fs=rate, norm='mag'), freqz, group_delay, lfilter", "rates": []}
for rate in [20, 50, 100, 200, 1000]:
    b, a = signal.bessel(4, 5.0, fs=rate, norm="mag")
    sos = signal.bessel(4, 5.0, fs=rate, norm="mag", output="sos")
    hz = [f for f in [0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 10.0, 12.0, 15.0] if f < rate / 2]
    _, h = signal.sosfreqz(sos, worN=hz, fs=rate)
    step = signal.sosfilt(sos, np.ones(4 * rate))
    out["rates"].append(
        {
            "rate_hz": rate,
            "hz": hz,
            "gain": [round(float(x), 7) for x in abs(h)],
            "delay_s": round(float(signal.group_delay((b, a), w=[0.5], fs=rate)[1][0]) / rate, 5),
            "overshoot": round(float(step.max() - 1), 6),
        }
    )
print(json.dumps(out, indent=1))
