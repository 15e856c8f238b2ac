"""Levels of a file, worked out by NumPy from its samples.

Usage: file_levels.py RAW CHANNELS RATE_HZ

RAW holds 32-bit floats, one channel after the other. Printed as JSON: sample peaks and RMS in dBFS
(0 dBFS is magnitude 1.0) of A, B, their sum and the bus, the correlation without the mean taken
away, the sum's gain over the power sum, A - B, the mean, and the last delay in ms up to which the
normalised autocorrelation of both channels together reaches 0.1 either way, for the whole band and
between 20 Hz and 20 kHz.
"""

import json
import sys

import numpy


def db(power):
    return 10 * numpy.log10(power)


def last_delay_ms(audio, rate, low, high):
    """From the autocorrelation of the whole signal, each lag over the samples that it has, eight
    points a sample."""
    frames = audio.shape[1]
    size = 2 * frames
    spectrum = (numpy.abs(numpy.fft.rfft(audio, size)) ** 2).sum(axis=0)
    hz = numpy.fft.rfftfreq(size, 1 / rate)
    spectrum[(hz < low) | (hz > high)] = 0
    products = numpy.fft.irfft(spectrum, 8 * size)
    lags = numpy.arange(int(8 * 0.525 * rate))
    correlation = products[lags] / products[0] * frames / (frames - lags / 8)
    return 1e3 * numpy.nonzero(numpy.abs(correlation) >= 0.1)[0][-1] / (8 * rate)


def main():
    raw, channels, rate = sys.argv[1:]
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
    rate = float(rate)
    levels["last_delay_ms"] = {
        "whole": last_delay_ms(audio, rate, 0, rate / 2),
        "audible": last_delay_ms(audio, rate, 20, 20_000),
    }
    # JSON has no infinity, and numpy's numbers are not its.
    print(json.dumps(levels, default=float).replace("-Infinity", '"-inf"'))


main()
