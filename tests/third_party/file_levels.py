"""Levels of a file, worked out by NumPy from its samples.

Usage: file_levels.py RAW CHANNELS

RAW holds 32-bit floats, one channel after the other. Printed as JSON: sample peaks and RMS in dBFS
(0 dBFS is magnitude 1.0) of A, B, their sum and the bus, the correlation without the mean taken
away, the sum's gain over the power sum, A - B, and the mean.
"""

import json
import sys

import numpy


def db(power):
    return 10 * numpy.log10(power)


def main():
    raw, channels = sys.argv[1:]
    audio = numpy.fromfile(raw, dtype=numpy.float32).reshape(int(channels), -1).astype(numpy.float64)
    a, b = audio
    signals = {"a": a, "b": b, "sum": a + b}
    levels = {
        name: {
            "sample_peak_dbfs": 20 * numpy.log10(numpy.abs(signal).max()),
            "rms_dbfs": db(numpy.mean(signal**2)),
        }
        for name, signal in signals.items()
    }
    levels["bus"] = {
        "sample_peak_dbfs": 20 * numpy.log10(numpy.abs(audio).max()),
        "rms_dbfs": db(numpy.mean(audio**2)),
    }
    power = numpy.mean(a**2), numpy.mean(b**2)
    levels["halves"] = {
        "correlation": numpy.mean(a * b) / numpy.sqrt(power[0] * power[1]),
        "sum_gain_energy_db": db(numpy.mean((a + b) ** 2) / (power[0] + power[1])),
        "null_dbfs": db(numpy.mean((a - b) ** 2)),
        "level_difference_db": db(power[0] / power[1]),
    }
    levels["dc_dbfs"] = db(numpy.mean(audio.mean(axis=1) ** 2))
    # JSON has no infinity, and numpy's numbers are not its.
    print(json.dumps(levels, default=float).replace("-Infinity", '"-inf"'))


main()
