//! Stretches that are played twice, one behind the other, in place of what belongs there: as a buffer
//! that was not filled in time is.

use super::Burst;
use crate::compare::Source;
use crate::compare::play::Reel;
use crate::compare::record::{Edit, EditKind};
use crate::compare::timeline::Timeline;

/// Lengths of a buffer that are looked for, in frames.
const LENGTHS: std::ops::RangeInclusive<usize> = 32..=16_384;
/// Frames that are compared first, and how far probes lie apart.
const PROBE: usize = 48;
const APART: usize = 32;
/// Difference of two samples that are the same, against the loudest around.
const SAME: f64 = 1e-5;
/// Share of the buffer that has to come back.
const LEAST_SHARE: f64 = 0.9;
/// Bursts longer than this, in frames, are no buffer.
const LONGEST: i64 = 65_536;

/// Looks into the bursts, in the order of time. `rates_hz` are those of the mix and of the export.
pub(in crate::compare) fn find<S: Source>(
    export: &mut Reel<S>,
    bursts: &[Burst],
    timeline: &Timeline,
    rates_hz: [f64; 2],
) -> Result<Vec<Edit>, S::Error> {
    let mut found = Vec::new();
    for burst in bursts.iter().filter(|burst| burst.end - burst.start <= LONGEST) {
        let before = *LENGTHS.end() as i64 + LONGEST;
        let first = burst.start - before;
        let after = *LENGTHS.end() as i64;
        export.show(first, burst.end + after)?;
        let mut signal = vec![0.0; (burst.end + after - first) as usize];
        let mut channel = signal.clone();
        // Channels at different weights, so that none hides another.
        for index in 0..export.channels().min(2) {
            export.copy(index, first, &mut channel);
            let weight = 1.0 / (index as f64 + 1.0);
            signal.iter_mut().zip(&channel).for_each(|(sum, x)| *sum += weight * x);
        }
        let place = (before as usize)..((burst.end - first) as usize);
        found.extend(repeat(&signal, place).map(|(start, frames)| {
            let start = first + start as i64;
            Edit {
                mix_s: timeline.mix_s(start, rates_hz[0]),
                export_s: start as f64 / rates_hz[1],
                length_s: frames as f64 / rates_hz[1],
                error_s: 0.0,
                kind: EditKind::Repeated,
            }
        }));
    }
    Ok(found)
}

/// First frame and length of a repetition within a place.
fn repeat(signal: &[f64], place: std::ops::Range<usize>) -> Option<(usize, usize)> {
    let loudest = signal[place.clone()].iter().fold(0f64, |held, x| held.max(x.abs()));
    if loudest <= 0.0 {
        return None;
    }
    let same = |n: usize, length: usize| {
        n >= length && (signal[n] - signal[n - length]).abs() <= SAME * loudest
    };
    let moves = |probe: usize| {
        let part = &signal[probe..probe + PROBE];
        part.iter().any(|x| (x - part[0]).abs() > 10.0 * SAME * loudest)
    };
    let last = place.end.min(signal.len() - PROBE);
    for probe in (place.start..last).step_by(APART).filter(|probe| moves(*probe)) {
        let length =
            LENGTHS.into_iter().find(|length| (probe..probe + PROBE).all(|n| same(n, *length)));
        let Some(length) = length else { continue };
        let start = (0..=probe).rev().take_while(|n| same(*n, length)).last().unwrap_or(probe);
        let end = (probe..signal.len()).take_while(|n| same(*n, length)).last().unwrap_or(probe);
        let run = end + 1 - start;
        if run as f64 >= LEAST_SHARE * length as f64 {
            return Some((start, run.min(length)));
        }
    }
    None
}
