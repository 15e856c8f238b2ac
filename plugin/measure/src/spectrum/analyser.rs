//! Power spectra of pairs of channels, one after the other, with a mean since reset, and the cross
//! spectrum of the halves.
//!
//! A full window is put aside and transformed in stages while the next one fills. Between its stages,
//! some bins hold it already and some do not: whoever reads them waits for the last one.

use std::ops::RangeInclusive;
use std::sync::Arc;

use pulp::Arch;
use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::powers::{BinPowers, HalvesBins, Kept, Transformed, Windowed};
use super::stages::Stages;
use super::window;
use crate::highest::highest;

/// Share of each new transform in what is shown as latest.
const FRESH_SHARE: f32 = 0.35;
/// Bins whose powers one stage works out.
const BINS_A_STAGE: usize = 2048;

/// Transforms of `length` frames of a number of pairs of channels.
///
/// A pair shares one complex transform.
pub(crate) struct Analyser {
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    arch: Arch,
    /// `[pair][frame]`: the window that is being filled.
    frames: Vec<Vec<Complex32>>,
    filled: usize,
    /// `[pair][frame]`: the latest full window, which its transform leaves nothing of.
    full: Vec<Vec<Complex32>>,
    /// Of the full window: `stages_a_pair` for each pair.
    stages: Stages,
    /// The transform of a pair that the stages work on.
    transform: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// `[bin]`, up to half the rate: mean of the channels' powers, a tone at a bin's centre reading
    /// its mean square. Where there was no transform since reset, what they hold is of before.
    powers: BinPowers,
    /// `[bin]`, of the halves' pairs, added up over the transforms; likewise.
    halves: HalvesBins,
    halves_pairs: usize,
    transforms: u64,
    /// Whether there were transforms before the first that counts.
    continues: bool,
    scale: f32,
    bin_hz: f64,
}

impl Analyser {
    /// An analyser of `pairs` pairs that hold `channels` channels between them; the first
    /// `halves_pairs` are the halves'.
    pub(crate) fn new(
        rate_hz: f64,
        length: usize,
        pairs: usize,
        halves_pairs: usize,
        channels: usize,
    ) -> Self {
        let fft = FftPlanner::new().plan_fft_forward(length);
        let window = window::shape(length);
        let gain: f64 = window.iter().sum();
        Self {
            scratch: vec![Complex32::default(); fft.get_outofplace_scratch_len()],
            fft,
            window: window.iter().map(|&w| w as f32).collect(),
            arch: Arch::new(),
            frames: vec![vec![Complex32::default(); length]; pairs],
            filled: 0,
            full: vec![vec![Complex32::default(); length]; pairs],
            stages: Stages::default(),
            transform: vec![Complex32::default(); length],
            powers: BinPowers::new(length / 2),
            halves: HalvesBins::new(if halves_pairs > 0 { length / 2 } else { 0 }),
            halves_pairs,
            transforms: 0,
            continues: false,
            // |A|² of a sine of amplitude α at a bin's centre is (α·gain/2)²; its mean square α²/2.
            // The pair's identity brings a half, the mean over channels the rest.
            scale: (1.0 / (gain * gain) / channels as f64) as f32,
            bin_hz: rate_hz / length as f64,
        }
    }

    /// Clears what was measured. Nothing is written over: the first transform does that.
    pub(crate) fn reset(&mut self) {
        self.filled = 0;
        self.stages.stop();
        self.transforms = 0;
        self.continues = false;
    }

    /// Readies a fresh analyser for a signal whose first frame is frame `frame` of a longer one, so
    /// that it makes the transforms that the longer one would have.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.filled = (frame % self.window.len() as u64) as usize;
    }

    /// Drops the frames that wait for their transform: what comes next does not go on from them. A
    /// window that was full before is still transformed.
    pub(crate) fn interrupt(&mut self) {
        self.filled = 0;
    }

    /// Counts from here on, as a part of a longer signal. The transform that is being filled counts.
    pub(crate) fn begin(&mut self) {
        self.complete();
        self.transforms = 0;
        self.continues = true;
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(crate) fn append(&mut self, mut later: Self) {
        self.complete();
        later.complete();
        if later.transforms == 0 {
            std::mem::swap(&mut later.powers, &mut self.powers);
            std::mem::swap(&mut later.halves, &mut self.halves);
        } else if self.transforms > 0 {
            let faded = (1.0 - f64::from(FRESH_SHARE)).powf(later.transforms as f64);
            later.powers.append_to(&self.powers, faded as f32);
            later.halves.append_to(&self.halves);
        }
        later.transforms += self.transforms;
        later.continues = self.continues;
        *self = later;
    }

    /// Takes frames, `[pair]` of (a, b), all of one length.
    pub(crate) fn take<'a>(&mut self, pairs: impl Iterator<Item = (&'a [f32], &'a [f32])> + Clone) {
        let count = pairs.clone().next().map_or(0, |(a, _)| a.len());
        let mut taken = 0;
        while taken < count {
            let stretch = (count - taken).min(self.window.len() - self.filled);
            for (frames, (a, b)) in self.frames.iter_mut().zip(pairs.clone()) {
                let slots = &mut frames[self.filled..self.filled + stretch];
                for ((slot, &a), &b) in slots.iter_mut().zip(&a[taken..]).zip(&b[taken..]) {
                    *slot = Complex32::new(a, b);
                }
            }
            taken += stretch;
            self.filled += stretch;
            if self.filled == self.window.len() {
                self.filled = 0;
                self.complete();
                std::mem::swap(&mut self.frames, &mut self.full);
                self.stages.begin(self.frames.len() * self.stages_a_pair());
            }
        }
    }

    /// Whether stages of a transform are left.
    pub(crate) fn is_working(&self) -> bool {
        !self.stages.are_done()
    }

    /// Transforms what waits, all stages at once.
    pub(crate) fn complete(&mut self) {
        while self.is_working() {
            self.advance();
        }
    }

    /// Does the next stage of a transform, if one is left.
    pub(crate) fn advance(&mut self) {
        let stages_a_pair = self.stages_a_pair();
        let Some(stage) = self.stages.take_one() else { return };
        let pair = stage / stages_a_pair;
        match (stage % stages_a_pair).checked_sub(1) {
            None => {
                let Self { full, window, transform, scratch, .. } = self;
                let frames = &mut full[pair][..];
                self.arch.dispatch(Windowed { frames, window });
                self.fft.process_outofplace_with_scratch(frames, transform, scratch);
            }
            Some(chunk) => self.add(pair, chunk),
        }
        if self.stages.are_done() {
            self.transforms += 1;
        }
    }

    /// Stages of a pair: its transform, then the powers of its bins.
    fn stages_a_pair(&self) -> usize {
        1 + self.bins().div_ceil(BINS_A_STAGE)
    }

    /// Adds what the transform of a pair holds in some of its bins.
    fn add(&mut self, pair: usize, chunk: usize) {
        let is_first = self.transforms == 0;
        let fresh = if is_first && !self.continues { 1.0 } else { FRESH_SHARE };
        // The first pair of the first transform writes over what was there before.
        let kept = match (pair, is_first) {
            (0, true) => Kept { latest: 0.0, sum: 0.0 },
            (0, false) => Kept { latest: 1.0 - fresh, sum: 1.0 },
            _ => Kept { latest: 1.0, sum: 1.0 },
        };
        let bins = chunk * BINS_A_STAGE..((chunk + 1) * BINS_A_STAGE).min(self.bins());
        if bins.start == 0 {
            // 0 Hz is its own mirror. Only what leaks from it is of interest.
            let power = f64::from(2.0 * self.transform[0].norm_sqr() * self.scale);
            self.powers.sum[0] = kept.sum * self.powers.sum[0] + power;
        }
        let transformed = Transformed::new(&self.transform, bins, self.scale, kept);
        transformed.add_powers(self.arch, &mut self.powers, fresh);
        if pair < self.halves_pairs {
            transformed.add_halves(self.arch, &mut self.halves);
        }
    }

    /// Width of a bin, in Hz.
    pub(crate) fn bin_hz(&self) -> f64 {
        self.bin_hz
    }

    /// How many bins there are.
    pub(crate) fn bins(&self) -> usize {
        self.window.len() / 2
    }

    /// The bins from `low_hz` to `high_hz`, at least the nearest one.
    pub(crate) fn bins_between(&self, low_hz: f64, high_hz: f64) -> RangeInclusive<usize> {
        let last = self.bins() - 1;
        let first = (low_hz / self.bin_hz).ceil() as usize;
        let end = (high_hz / self.bin_hz).floor() as usize;
        if first <= end && first <= last {
            first..=end.min(last)
        } else {
            let nearest = ((low_hz + high_hz) / 2.0 / self.bin_hz).round() as usize;
            nearest.min(last)..=nearest.min(last)
        }
    }

    /// Powers by bin, added up over the transforms since reset; none where there was no transform.
    pub(super) fn sums(&self) -> &[f64] {
        if self.transforms == 0 { &[] } else { &self.powers.sum }
    }

    /// How many transforms there have been since reset.
    pub(crate) fn transforms(&self) -> u64 {
        self.transforms
    }

    /// Highest mean power of some bins since reset.
    pub(crate) fn strongest_mean(&self, bins: RangeInclusive<usize>) -> f64 {
        if self.transforms == 0 {
            return 0.0;
        }
        highest(&self.powers.sum[bins], |_, sum| sum) / self.transforms as f64
    }

    /// Highest power of some bins lately.
    pub(crate) fn strongest_latest(&self, bins: RangeInclusive<usize>) -> f64 {
        if self.transforms == 0 {
            return 0.0;
        }
        highest(&self.powers.latest[bins], |_, power| f64::from(power))
    }

    /// What the halves hold, added up over the transforms since reset; of no meaning where there was
    /// no transform.
    pub(super) fn halves(&self) -> &HalvesBins {
        &self.halves
    }

    /// Frames of a transform.
    pub(super) fn length(&self) -> usize {
        self.window.len()
    }

    /// The transform itself, for who takes a spectrum back to a sequence.
    pub(super) fn fft(&self) -> &Arc<dyn Fft<f32>> {
        &self.fft
    }
}

#[cfg(test)]
mod tests {
    use std::ops::Range;

    use super::*;

    const LENGTH: usize = 256;
    /// Frames that are taken at a time.
    const BATCH: usize = 16;

    /// Two pairs of anything; the first is the halves'.
    fn analyser() -> Analyser {
        Analyser::new(48_000.0, LENGTH, 2, 1, 4)
    }

    /// Feeds batches of anything, with so many stages after each.
    fn feed(analyser: &mut Analyser, batches: Range<usize>, stages: usize) {
        for batch in batches {
            let channel = |channel: usize| -> Vec<f32> {
                let frames =
                    (batch * BATCH..(batch + 1) * BATCH).map(|frame| frame * (channel + 7));
                frames.map(|n| ((n * n % 1009) as f32 / 1009.0) - 0.5).collect()
            };
            let [a, b, c, d] = [0, 1, 2, 3].map(channel);
            analyser.take([(&a[..], &b[..]), (&c[..], &d[..])].into_iter());
            (0..stages).for_each(|_| analyser.advance());
        }
    }

    /// Everything that can be read, once nothing waits.
    fn readings(analyser: &mut Analyser) -> Vec<f64> {
        analyser.complete();
        let HalvesBins { aa, bb, real, imaginary } = analyser.halves();
        let sums = [analyser.sums(), aa, bb, real, imaginary].map(<[f64]>::to_vec).concat();
        let latest = (0..analyser.bins()).map(|bin| analyser.strongest_latest(bin..=bin));
        sums.into_iter().chain(latest).chain([analyser.transforms() as f64]).collect()
    }

    #[test]
    fn stages_only_postpone() {
        let mut at_once = analyser();
        feed(&mut at_once, 0..100, 100);
        let expected = readings(&mut at_once);
        assert_eq!(expected.last(), Some(&6.0));
        for stages in [0, 1, 2] {
            let mut staged = analyser();
            feed(&mut staged, 0..100, stages);
            assert_eq!(readings(&mut staged), expected, "{stages} stages a batch");
        }
    }

    #[test]
    fn a_reset_leaves_nothing() {
        let mut fresh = analyser();
        feed(&mut fresh, 0..40, 1);
        let mut used = analyser();
        // A window waits, and another is half full.
        feed(&mut used, 50..74, 0);
        used.complete();
        feed(&mut used, 74..90, 0);
        used.reset();
        assert_eq!(
            (used.transforms(), used.sums().len(), used.strongest_latest(0..=9)),
            (0, 0, 0.0)
        );
        feed(&mut used, 0..40, 1);
        assert_eq!(readings(&mut used), readings(&mut fresh));
    }

    /// The parts meet where a window waits for its transform: the earlier part counts it, and the
    /// later one, which made it too, does not.
    #[test]
    fn parts_make_the_whole() {
        let mut whole = analyser();
        feed(&mut whole, 0..160, 1);
        let mut earlier = analyser();
        feed(&mut earlier, 0..64, 0);
        let mut later = analyser();
        later.start_at(32 * BATCH as u64);
        feed(&mut later, 32..64, 0);
        later.begin();
        feed(&mut later, 64..160, 0);
        earlier.append(later);
        for (got, expected) in readings(&mut earlier).iter().zip(readings(&mut whole)) {
            assert!((got - expected).abs() <= 1e-6 * expected.abs().max(1e-3), "{got} {expected}");
        }
    }
}
