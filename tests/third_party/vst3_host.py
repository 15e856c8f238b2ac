"""Plays raw audio through a VST3 plugin in a host that nobody here wrote.

Usage: vst3_host.py BUNDLE INPUT OUTPUT CHANNELS RATE_HZ BLOCK_FRAMES

INPUT and OUTPUT hold 32-bit floats, one channel after the other. The plugin is gone when the script
ends, so its log is whole. What the host shows of it is printed as JSON.
"""

import json
import sys

import numpy
import pedalboard


def main():
    bundle, source, target, channels, rate_hz, block_frames = sys.argv[1:]
    plugin = pedalboard.load_plugin(bundle)
    audio = numpy.fromfile(source, dtype=numpy.float32).reshape(int(channels), -1)
    output = plugin.process(audio, float(rate_hz), buffer_size=int(block_frames))
    # The host works in 32-bit float as well: what comes back are the plugin's own bits.
    assert output.dtype == numpy.float32, output.dtype
    output.tofile(target)
    shown = {
        "name": plugin.name,
        "manufacturer": plugin.manufacturer_name,
        "is_effect": plugin.is_effect,
        "latency_frames": plugin.reported_latency_samples,
        "parameters": list(plugin.parameters),
        "state_survives": state_survives(plugin),
    }
    print(json.dumps(shown))


def state_survives(plugin):
    """Whether a state saved, recalled and saved again stays the same."""
    before = plugin.raw_state
    plugin.raw_state = before
    return plugin.raw_state == before


main()
