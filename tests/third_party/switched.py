"""What changed in a file that was switched at its middle, worked out with NumPy: RMS, sample peak over
equal lengths, kurtosis, and the delay of a late copy by autocorrelation.

Takes raw 32-bit samples of one channel and the sample rate; prints JSON.
"""

import json
import sys

import numpy as np

samples = np.fromfile(sys.argv[1], "<f4").astype(float)
rate = float(sys.argv[2])
middle = len(samples) // 2
# Apart from what filters would join.
margin = int(0.3 * rate)
halves = [samples[margin : middle - margin], samples[middle + margin : -margin]]


def db(ratio):
    return float(20 * np.log10(ratio))


rms = [np.sqrt(np.mean(half**2)) for half in halves]
peak = [np.max(np.abs(half)) for half in halves]
kurtosis = [float(np.mean(half**4) / np.mean(half**2) ** 2) for half in halves]

# Whitened autocorrelation of the second half, from 0.4 ms to 260 ms.
size = 1 << (2 * len(halves[1]) - 1).bit_length()
spectrum = np.abs(np.fft.rfft(halves[1], size)) ** 2
smooth = np.convolve(spectrum, np.ones(4001) / 4001, "same")
lags = np.fft.irfft(spectrum / (smooth + 1e-30))
first, last = int(0.0004 * rate), int(0.26 * rate)
lag = first + int(np.argmax(np.abs(lags[first:last])))

print(
    json.dumps(
        {
            "rms_db": db(rms[1] / rms[0]),
            "sample_peak_db": db(peak[1] / peak[0]),
            "kurtosis": kurtosis,
            "delay_ms": 1000 * lag / rate,
        }
    )
)
