"""Welch's one-sided power spectral density of a made-up split signal, from scipy.signal."""
import json

import numpy as np
from scipy import signal

n, rate = 1500, 50.0
t = np.arange(n) / rate
noise = ((np.arange(n) * 7919) % 1009) / 1009 - 0.5
x = 52 + 4 * np.sin(2 * np.pi * 0.7 * t) + 1.5 * np.sin(2 * np.pi * 2.1 * t + 1) + 0.1 * t + noise
x = np.round(x, 4)
out = {"source": "scipy.signal.welch(x, fs, 'hann', nperseg), defaults: 50 % overlap, constant detrend, density", "signal": x.tolist(), "cases": []}
for segment in [512, 501, 4000]:
    hz, density = signal.welch(x, rate, "hann", nperseg=min(segment, n))
    inside = (hz >= 0.2) & (hz <= 3.0)
    out["cases"].append(
        {
            "rate_hz": rate,
            "segment": segment,
            "density": [float(f"{d:.9g}") for d in density],
            "band_power": float(f"{np.trapezoid(density[inside], hz[inside]):.9g}"),
            "dominant_hz": float(hz[inside][np.argmax(density[inside])]),
        }
    )
print(json.dumps(out))
