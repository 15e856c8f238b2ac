//! What the scenarios play, and how they compare.

use ledgerline_tests::hosts::Layout;
use ledgerline_tests::signals::noise;

/// Rates that every host uses, in Hz.
pub const RATES_HZ: [f64; 4] = [44_100.0, 48_000.0, 96_000.0, 192_000.0];

/// Block lengths without a pattern, from the shortest to the longest.
pub const CHANGING_BLOCKS: [usize; 10] = [1, 64, 7, 8192, 333, 512, 2, 4096, 1023, 480];

/// Uniform noise at −6 dBFS, `[channel][frame]`, another one in each channel.
pub fn noises(channels: usize, frames: usize, seed: u64) -> Vec<Vec<f32>> {
    (0..channels as u64).map(|channel| noise::white(seed * 100 + channel, 0.5, frames)).collect()
}

/// Every kind of 32-bit pattern: NaN with payloads, infinities, denormals, numbers of any size.
/// Patterns without an order, with the worst ones strewn in.
pub fn any_bits(channels: usize, frames: usize) -> Vec<Vec<f32>> {
    const WORST: [u32; 12] = [
        0x7fc0_0001, // a quiet NaN with a payload
        0xffc1_2345, // a negative one
        0x7f80_0001, // a signalling NaN
        0x7f80_0000, // +inf
        0xff80_0000, // -inf
        0x0000_0001, // the smallest denormal
        0x807f_ffff, // the largest negative denormal
        0x8000_0000, // -0
        0x7149_f2ca, // 1e30
        0xf149_f2ca, // -1e30
        0x7f7f_ffff, // the largest number
        0x3f80_0000, // full scale
    ];
    let pattern = |channel: u64, frame: u64| {
        let hash = noise::hash(channel, frame);
        if hash.is_multiple_of(3) {
            WORST[(hash >> 32) as usize % WORST.len()]
        } else {
            (hash >> 32) as u32
        }
    };
    (0..channels as u64)
        .map(|channel| (0..frames as u64).map(|f| f32::from_bits(pattern(channel, f))).collect())
        .collect()
}

/// The side-chain of a layout: noise, or nothing.
pub fn side_chain(layout: Layout, frames: usize) -> Vec<Vec<f32>> {
    noises(layout.side_chain_channels(), frames, 77)
}

/// Panics unless both are the same bit for bit, NaN payloads included.
pub fn assert_same_bits(output: &[Vec<f32>], input: &[Vec<f32>], circumstances: &str) {
    assert_eq!(output.len(), input.len(), "channels, {circumstances}");
    for (channel, (output, input)) in output.iter().zip(input).enumerate() {
        assert_eq!(output.len(), input.len(), "frames, {circumstances}");
        let differs = |(out, input): (&f32, &f32)| out.to_bits() != input.to_bits();
        if let Some(frame) = output.iter().zip(input).position(differs) {
            panic!(
                "channel {channel}, frame {frame}: {:#010x} came for {:#010x}, {circumstances}",
                output[frame].to_bits(),
                input[frame].to_bits()
            );
        }
    }
}
