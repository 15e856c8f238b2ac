//! Spots: a few samples that differ far more than everything around them.
//!
//! The difference between export and prediction is cut into short parts. A part that stands out
//! from those before and behind it, though not from those next to it, holds a spot. Longer stretches
//! of zeros where there ought to be sound are found by themselves.

use std::collections::VecDeque;

use crate::compare::record::SpotKind;

/// Frames of a part.
const PART: usize = 64;
/// Parts on either side that a part is compared with; the nearest one on either side is left out.
const SIDE: usize = 16;
/// Parts kept.
const KEPT: usize = 2 * SIDE + 1;
/// How far a spot stands out.
const STANDS_OUT: f64 = 4.0;
/// How far it does, and how large it is against the sound around it, where the difference is coarse
/// anyway: what coding leaves at an attack stands out too.
const STANDS_OUT_COARSE: f64 = 12.0;
const AGAINST_SOUND: f64 = 0.3;
/// A difference this small against the sound is clean: −60 dB.
const CLEAN: f64 = 1e-3;
/// Samples of a click, at most, where something differs all the time.
const LONGEST_CLICK: usize = 24;
/// Samples from which what is lower than it should be throughout was turned down and is no click.
const LEAST_TURNED_DOWN: usize = 8;
/// Correlation of an error with the next one from which all of it lies near half the rate: that is lost in
/// a converter, and is no click.
const RINGS: f64 = -0.6;
/// Smallest error of a spot: −80 dBFS, three steps of 16 bits.
const LEAST_ERROR: f64 = 1e-4;
/// Zeros in a row that are a spot by themselves.
const ZERO_RUN: usize = 100;
/// Sound that has to be missing there: −70 dBFS RMS.
const MISSING_POWER: f64 = 1e-7;
/// Near the top of the export, or of full scale, a sample is cut off.
const NEAR_TOP: f64 = 0.97;
/// Spots of several channels this close, in frames, are one.
const SAME_FRAMES: i64 = 16;
/// Spots kept; more are only counted.
const MOST_KEPT: usize = 100_000;

/// A spot in frames of the export.
#[derive(Debug, Clone, Copy)]
pub(in crate::compare) struct Found {
    pub frame: i64,
    pub samples: u32,
    /// First channel in which it was found, and in how many.
    pub channel: usize,
    pub channels: u32,
    /// Largest difference.
    pub error: f64,
    pub kind: SpotKind,
}

/// Looks for spots in all channels.
pub(super) struct SpotFinder {
    channels: Vec<Channel>,
    found: Vec<Found>,
    top: f64,
    whole: bool,
}

impl SpotFinder {
    /// For exports whose largest magnitude is `top`; `whole` where predictions are the mix's samples.
    pub fn new(channels: usize, top: f64, whole: bool) -> Self {
        Self { channels: vec![Channel::default(); channels], found: Vec::new(), top, whole }
    }

    pub fn take(&mut self, heard: &[Vec<f64>], predicted: &[Vec<f64>], start: i64) {
        for (index, channel) in self.channels.iter_mut().enumerate() {
            for (n, (&y, &z)) in heard[index].iter().zip(&predicted[index]).enumerate() {
                let frame = start + n as i64;
                if let Some(found) = channel.count_zeros(frame, y, z) {
                    keep(&mut self.found, Found { channel: index, ..found });
                }
                if channel.push(frame, y, z)
                    && let Some(found) = channel.judge(self.top, self.whole)
                {
                    keep(&mut self.found, Found { channel: index, ..found });
                }
            }
        }
    }

    /// Judges what waits, as if nothing differed behind it, and starts afresh.
    pub fn end_segment(&mut self) {
        for (index, channel) in self.channels.iter_mut().enumerate() {
            let next = channel.next_frame;
            if let Some(found) = channel.count_zeros(next, 1.0, 1.0) {
                keep(&mut self.found, Found { channel: index, ..found });
            }
            for frame in next..next + ((SIDE + 1) * PART) as i64 {
                if channel.push(frame, 0.0, 0.0)
                    && let Some(found) = channel.judge(self.top, self.whole)
                {
                    keep(&mut self.found, Found { channel: index, ..found });
                }
            }
            *channel = Channel::default();
        }
    }

    /// All spots, in the order of time.
    pub fn finish(mut self) -> Vec<Found> {
        self.found.sort_by_key(|found| found.frame);
        self.found
    }
}

/// Keeps a spot, or counts it to the one at the same place.
fn keep(found: &mut Vec<Found>, new: Found) {
    let end = new.frame + i64::from(new.samples);
    let same = |old: &&mut Found| {
        let old_end = old.frame + i64::from(old.samples);
        new.frame <= old_end + SAME_FRAMES && old.frame <= end + SAME_FRAMES
    };
    let recent = found.len().saturating_sub(64);
    if let Some(old) = found[recent..].iter_mut().find(same) {
        if old.channel != new.channel {
            old.channels += 1;
            old.error = old.error.max(new.error);
        }
    } else if found.len() < MOST_KEPT {
        found.push(new);
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Part {
    error: f64,
    sound: f64,
}

/// One channel's parts.
#[derive(Debug, Clone, Default)]
struct Channel {
    /// Export and prediction of the kept parts, one behind the other.
    samples: VecDeque<(f64, f64)>,
    parts: VecDeque<Part>,
    next_frame: i64,
    zeros: usize,
    missing: f64,
    missing_peak: f64,
}

impl Channel {
    /// Takes a sample; true when that filled a part.
    fn push(&mut self, frame: i64, y: f64, z: f64) -> bool {
        self.next_frame = frame + 1;
        if self.samples.len().is_multiple_of(PART) {
            self.parts.push_back(Part::default());
            if self.parts.len() > KEPT {
                self.parts.pop_front();
                self.samples.drain(..PART);
            }
        }
        self.samples.push_back((y, z));
        if let Some(part) = self.parts.back_mut() {
            part.error = part.error.max((y - z).abs());
            part.sound = part.sound.max(z.abs());
        }
        self.samples.len().is_multiple_of(PART)
    }

    /// Counts zeros; gives the spot that a long run of them is once it is over.
    fn count_zeros(&mut self, frame: i64, y: f64, z: f64) -> Option<Found> {
        if y == 0.0 {
            self.zeros += 1;
            self.missing += z * z;
            self.missing_peak = self.missing_peak.max(z.abs());
            return None;
        }
        let (zeros, missing, error) = (self.zeros, self.missing, self.missing_peak);
        (self.zeros, self.missing, self.missing_peak) = (0, 0.0, 0.0);
        let is_spot = zeros >= ZERO_RUN && missing >= MISSING_POWER * zeros as f64;
        is_spot.then(|| Found {
            frame: frame - zeros as i64,
            samples: zeros as u32,
            channel: 0,
            channels: 1,
            error,
            kind: SpotKind::Zeroed,
        })
    }

    /// Judges the part that has as many behind it as it needs.
    fn judge(&self, top: f64, whole: bool) -> Option<Found> {
        let middle = self.parts.len().checked_sub(SIDE + 1)?;
        let error = self.parts[middle].error;
        if error < LEAST_ERROR {
            return None;
        }
        let around = |near: usize| {
            let from = middle.saturating_sub(SIDE);
            let apart = move |index: &usize| index.abs_diff(middle) >= near;
            self.parts
                .range(from..)
                .enumerate()
                .map(move |(n, part)| (n + from, part))
                .filter(move |(index, _)| apart(index))
        };
        let baseline = around(2).map(|(_, part)| part.error).fold(0.0, f64::max);
        // Of neighbours that hold one spot together, the larger one is judged.
        let neighbours = [middle.wrapping_sub(1), middle + 1];
        let larger = |index: &usize| {
            self.parts
                .get(*index)
                .is_some_and(|part| part.error > error || (part.error == error && *index < middle))
        };
        if error < STANDS_OUT * baseline || neighbours.iter().any(larger) {
            return None;
        }
        let sound = around(0).map(|(_, part)| part.sound).fold(0.0, f64::max);
        let clean = whole && baseline < CLEAN * sound;
        let stands_out = error >= STANDS_OUT_COARSE * baseline && error >= AGAINST_SOUND * sound;
        if !clean && !stands_out {
            return None;
        }
        let least = (2.0 * baseline).max(0.02 * error);
        let from = middle.saturating_sub(1) * PART;
        let to = ((middle + 2) * PART).min(self.samples.len());
        let wrong = |index: &usize| (self.samples[*index].0 - self.samples[*index].1).abs() > least;
        let first = (from..to).find(wrong)?;
        let last = (from..to).rev().find(wrong)?;
        let start = self.next_frame - self.samples.len() as i64;
        let kind = self.kind(first, last, top);
        // A click is short; a longer burst, where something differs all the time, is what a filter or a
        // coder leaves of an attack.
        let rings = || {
            let error = |index: usize| self.samples[index].0 - self.samples[index].1;
            let own: f64 = (first..=last).map(|index| error(index).powi(2)).sum();
            let next: f64 = (first..last).map(|index| error(index) * error(index + 1)).sum();
            next < RINGS * own
        };
        if kind == SpotKind::Wrong
            && last - first >= LEAST_TURNED_DOWN
            && self.turned_down(first, last)
        {
            return None;
        }
        if kind == SpotKind::Wrong && baseline > 0.0 && (last - first >= LONGEST_CLICK || rings()) {
            return None;
        }
        Some(Found {
            frame: start + first as i64,
            samples: (last - first + 1) as u32,
            channel: 0,
            channels: 1,
            error,
            kind,
        })
    }

    /// Whether every sample lies between its prediction and none: a gain, or a ceiling.
    fn turned_down(&self, first: usize, last: usize) -> bool {
        (first..=last).all(|index| {
            let (y, z) = self.samples[index];
            y.abs() <= z.abs() && y.signum() == z.signum()
        })
    }

    fn kind(&self, first: usize, last: usize, top: f64) -> SpotKind {
        let heard = |index: usize| self.samples[index].0;
        let flat = (first..last).all(|index| heard(index) == heard(index + 1));
        let near_top = (first..=last).any(|index| heard(index).abs() >= NEAR_TOP * top.max(0.1));
        let cut_off = self.turned_down(first, last);
        if (first..=last).all(|index| heard(index) == 0.0) {
            SpotKind::Zeroed
        } else if near_top && (cut_off || heard(first).abs() >= 0.9999) {
            SpotKind::Clipped
        } else if flat && first > 0 && heard(first) == heard(first - 1) {
            SpotKind::Held
        } else {
            SpotKind::Wrong
        }
    }
}
