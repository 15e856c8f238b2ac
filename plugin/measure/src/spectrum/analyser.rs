//! Power spectra of pairs of channels, one after the other, with a mean since reset, and the cross
//! spectrum of the halves.

use std::ops::RangeInclusive;
use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::window;

/// Share of each new transform in what is shown as latest.
const FRESH_SHARE: f32 = 0.35;

/// What the halves hold in one bin: their powers, and A·B*, in one unit.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct HalvesBin {
    pub(super) aa: f64,
    pub(super) bb: f64,
    pub(super) real: f64,
    pub(super) imaginary: f64,
}

/// Transforms of `length` frames of a number of pairs of channels.
///
/// A pair shares one complex transform: for z = a + ib, |Z(f)|² + |Z(−f)|² = 2(|A|² + |B|²). Apart,
/// they are A = (Z(f) + Z*(−f))/2 and B = (Z(f) − Z*(−f))/2i.
pub(crate) struct Analyser {
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    /// `[pair][frame]`.
    frames: Vec<Vec<Complex32>>,
    filled: usize,
    work: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// `[bin]`, up to half the rate: mean of the channels' powers, a tone at a bin's centre reading
    /// its mean square.
    latest: Vec<f32>,
    sum: Vec<f64>,
    /// `[bin]`, of the halves' pairs, added up over the transforms.
    halves: Vec<HalvesBin>,
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
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            fft,
            window: window.iter().map(|&w| w as f32).collect(),
            frames: vec![vec![Complex32::default(); length]; pairs],
            filled: 0,
            work: vec![Complex32::default(); length],
            latest: vec![0.0; length / 2],
            sum: vec![0.0; length / 2],
            halves: vec![HalvesBin::default(); length / 2],
            halves_pairs,
            transforms: 0,
            continues: false,
            // |A|² of a sine of amplitude α at a bin's centre is (α·gain/2)²; its mean square α²/2.
            // The pair's identity brings a half, the mean over channels the rest.
            scale: (1.0 / (gain * gain) / channels as f64) as f32,
            bin_hz: rate_hz / length as f64,
        }
    }

    pub(crate) fn reset(&mut self) {
        self.filled = 0;
        self.latest.fill(0.0);
        self.sum.fill(0.0);
        self.halves.fill(HalvesBin::default());
        self.transforms = 0;
        self.continues = false;
    }

    /// Readies a fresh analyser for a signal whose first frame is frame `frame` of a longer one, so
    /// that it makes the transforms that the longer one would have.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.filled = (frame % self.window.len() as u64) as usize;
    }

    /// Drops the frames that wait for their transform: what comes next does not go on from them.
    pub(crate) fn interrupt(&mut self) {
        self.filled = 0;
    }

    /// Counts from here on, as a part of a longer signal. The transform that is being filled counts.
    pub(crate) fn begin(&mut self) {
        self.latest.fill(0.0);
        self.sum.fill(0.0);
        self.halves.fill(HalvesBin::default());
        self.transforms = 0;
        self.continues = true;
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(crate) fn append(&mut self, mut later: Self) {
        let faded = (1.0 - f64::from(FRESH_SHARE)).powf(later.transforms as f64) as f32;
        for (later, earlier) in later.latest.iter_mut().zip(&self.latest) {
            *later += faded * earlier;
        }
        for (later, earlier) in later.sum.iter_mut().zip(&self.sum) {
            *later += earlier;
        }
        for (later, earlier) in later.halves.iter_mut().zip(&self.halves) {
            later.aa += earlier.aa;
            later.bb += earlier.bb;
            later.real += earlier.real;
            later.imaginary += earlier.imaginary;
        }
        later.transforms += self.transforms;
        later.continues = self.continues;
        *self = later;
    }

    /// Takes frames, `[pair]` of (a, b), all of one length. Says whether a transform was made.
    pub(crate) fn take<'a>(
        &mut self,
        pairs: impl Iterator<Item = (&'a [f32], &'a [f32])> + Clone,
    ) -> bool {
        let count = pairs.clone().next().map_or(0, |(a, _)| a.len());
        let mut taken = 0;
        let mut transformed = false;
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
                self.transform();
                transformed = true;
            }
        }
        transformed
    }

    fn transform(&mut self) {
        let fresh = if self.transforms == 0 && !self.continues { 1.0 } else { FRESH_SHARE };
        self.transforms += 1;
        self.latest.iter_mut().for_each(|power| *power *= 1.0 - fresh);
        for (pair, frames) in self.frames.iter().enumerate() {
            for ((slot, frame), w) in self.work.iter_mut().zip(frames).zip(&self.window) {
                *slot = frame * w;
            }
            self.fft.process_with_scratch(&mut self.work, &mut self.scratch);
            // 0 Hz is its own mirror. Only what leaks from it is of interest.
            self.sum[0] += f64::from(2.0 * self.work[0].norm_sqr() * self.scale);
            let mirrored = self.work[1..].iter().rev();
            let bins = self.work[1..].iter().zip(mirrored);
            let powers = self.latest[1..].iter_mut().zip(&mut self.sum[1..]);
            for ((positive, negative), (latest, sum)) in bins.clone().zip(powers) {
                let power = (positive.norm_sqr() + negative.norm_sqr()) * self.scale;
                *latest += fresh * power;
                *sum += f64::from(power);
            }
            if pair < self.halves_pairs {
                for ((positive, negative), halves) in bins.zip(&mut self.halves[1..]) {
                    let product = positive * negative * self.scale;
                    let [p, n] = [positive, negative].map(|z| z.norm_sqr() * self.scale);
                    halves.aa += f64::from((p + n) / 2.0 + product.re);
                    halves.bb += f64::from((p + n) / 2.0 - product.re);
                    halves.real += f64::from(product.im);
                    halves.imaginary += f64::from((p - n) / 2.0);
                }
            }
        }
    }

    /// Width of a bin, in Hz.
    pub(crate) fn bin_hz(&self) -> f64 {
        self.bin_hz
    }

    /// How many bins there are.
    pub(crate) fn bins(&self) -> usize {
        self.latest.len()
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

    /// Mean power of a bin since reset.
    pub(crate) fn mean(&self, bin: usize) -> f64 {
        if self.transforms == 0 { 0.0 } else { self.sum[bin] / self.transforms as f64 }
    }

    /// Power of a bin, added up over the transforms since reset.
    pub(crate) fn sum(&self, bin: usize) -> f64 {
        self.sum[bin]
    }

    /// How many transforms there have been since reset.
    pub(crate) fn transforms(&self) -> u64 {
        self.transforms
    }

    /// Power of a bin lately.
    pub(crate) fn latest(&self, bin: usize) -> f64 {
        f64::from(self.latest[bin])
    }

    /// What the halves hold in a bin, added up over the transforms since reset.
    pub(super) fn halves(&self, bin: usize) -> HalvesBin {
        self.halves[bin]
    }

    /// Frames of a transform.
    pub(super) fn length(&self) -> usize {
        self.window.len()
    }

    /// Transforms a spectrum of bins up to half the rate back to the real sequence that it belongs
    /// to, time running backwards: `forward(−t)` for t from 0.
    pub(super) fn back(&mut self, bin: impl Fn(&Self, usize) -> Complex32) -> &[Complex32] {
        let mut work = std::mem::take(&mut self.work);
        work.fill(Complex32::default());
        for index in 1..self.bins() {
            let value = bin(self, index);
            work[index] = value;
            work[self.window.len() - index] = value.conj();
        }
        self.work = work;
        self.fft.process_with_scratch(&mut self.work, &mut self.scratch);
        &self.work
    }
}
