//! Signals that find out what a loop does not expect: of any length, silent, denormal, at full scale,
//! or all of these a sample each.

use std::ops::{Range, RangeInclusive};

use proptest::collection::{SizeRange, vec};
use proptest::prelude::*;

/// A sample in every way that there are samples.
pub(crate) fn sample() -> impl Strategy<Value = f32> {
    prop_oneof![
        8 => -1f32..=1.0,
        3 => (-1f32..=1.0, -8i32..0).prop_map(|(x, exponent)| x * 10f32.powi(exponent)),
        1 => Just(0.0),
        1 => Just(-0.0),
        2 => full_scale(),
        1 => denormal(),
    ]
}

fn full_scale() -> impl Strategy<Value = f32> {
    prop_oneof![Just(1f32), Just(-1f32)]
}

fn denormal() -> impl Strategy<Value = f32> {
    (1u32..0x80_0000, full_scale()).prop_map(|(bits, sign)| sign * f32::from_bits(bits))
}

/// A signal of some length.
pub(crate) fn signal(length: RangeInclusive<usize>) -> impl Strategy<Value = Vec<f32>> {
    let of = SizeRange::from(length);
    prop_oneof![
        8 => vec(sample(), of.clone()),
        1 => vec(Just(0f32), of.clone()),
        1 => vec(denormal(), of.clone()),
        1 => vec(full_scale(), of),
    ]
}

/// Several signals of one length.
pub(crate) fn signals<const COUNT: usize>(
    length: RangeInclusive<usize>,
) -> impl Strategy<Value = [Vec<f32>; COUNT]> {
    length.prop_flat_map(|length| std::array::from_fn(|_| signal(length..=length)))
}

/// Whole blocks of one length.
pub(crate) fn blocks<const FRAMES: usize>(
    count: RangeInclusive<usize>,
) -> impl Strategy<Value = Vec<[f32; FRAMES]>> {
    let block = signal(FRAMES..=FRAMES);
    vec(block.prop_map(|block| block.try_into().expect("as long as a block")), count)
}

/// Lengths of blocks, to be taken in turn.
pub(crate) fn block_lengths(most: usize) -> impl Strategy<Value = Vec<usize>> {
    vec(1..=most, 1..6)
}

/// Ranges of blocks of some lengths in turn, up to a signal's end.
pub(crate) fn cut(frames: usize, lengths: &[usize]) -> Vec<Range<usize>> {
    let mut start = 0;
    let mut ranges = Vec::new();
    for length in lengths.iter().cycle() {
        if start == frames {
            break;
        }
        let end = frames.min(start + length);
        ranges.push(start..end);
        start = end;
    }
    ranges
}
