//! Mean power spectra of the sum and of the bus from transforms of more than a second: fine enough for
//! the comb of a copy 200 ms late, and for correlations half a second apart. Not for an audio thread:
//! a transform comes all at once.

use std::cell::RefCell;
use std::sync::Arc;

use pulp::Arch;
use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use super::schedule::{Schedule, Spacing};
use crate::batch::PairBatch;
use crate::decorrelation::{Buffers, Powers};
use crate::hann;
use crate::spectrum::powers::{BinPowers, Kept, Transformed, Windowed};

/// Longest transform, in seconds.
const MOST_S: f64 = 1.22;
/// Transforms are powers of two times one of these: what divides well.
const FACTORS: [usize; 6] = [8, 9, 10, 12, 14, 15];

/// A mean spectrum, `[bin]` from 0 Hz up.
#[derive(Debug, Clone, Default)]
pub(crate) struct FineSpectrum {
    /// Powers of A + B.
    pub(crate) sum: Vec<f32>,
    /// Powers of all channels together.
    pub(crate) bus: Vec<f32>,
    /// Transforms in the mean.
    pub(crate) transforms: u64,
    /// Distance of two bins, in Hz.
    pub(crate) bin_hz: f64,
}

/// Long transforms of pairs of channels.
pub(crate) struct LongSpectra {
    arch: Arch,
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    /// `[pair][frame]`
    frames: Vec<Vec<Complex32>>,
    filled: usize,
    schedule: Schedule,
    halves_pairs: usize,
    /// Hold nothing between transforms; who reads the powers transforms them back in the same.
    buffers: RefCell<Buffers>,
    /// Powers of A + B; empty where nobody asks for them.
    sum: Vec<f64>,
    /// Powers of the bus, of every other transform each.
    bus: [BinPowers; 2],
    /// What those are the sums of, in transforms that count once.
    weight: f64,
    transforms: u64,
    bin_hz: f64,
}

impl LongSpectra {
    /// Spectra of the sum and of the bus, in transforms that overlap by half.
    pub(super) fn of_all(rate_hz: f64, pairs: usize, halves_pairs: usize) -> Self {
        Self::new(rate_hz, pairs, halves_pairs, Spacing::Even)
    }

    /// Spectra of the bus alone, in transforms that lie the further apart the longer it lasts.
    pub(super) fn of_some(rate_hz: f64, pairs: usize) -> Self {
        Self::new(rate_hz, pairs, 0, Spacing::Growing)
    }

    fn new(rate_hz: f64, pairs: usize, halves_pairs: usize, spacing: Spacing) -> Self {
        let length = length(rate_hz);
        let fft = FftPlanner::new().plan_fft_forward(length);
        // The powers of all bins add up to the mean square.
        let scale = 1.0 / (length as f64 * hann::MEAN_SQUARE.sqrt());
        let bins = length / 2;
        Self {
            arch: Arch::new(),
            window: hann::shape(length).iter().map(|w| (w * scale) as f32).collect(),
            frames: vec![vec![Complex32::default(); length]; pairs],
            filled: 0,
            schedule: Schedule::new(spacing, length),
            halves_pairs,
            buffers: RefCell::new(Buffers::of(&*fft)),
            fft,
            sum: vec![0.0; if halves_pairs > 0 { bins } else { 0 }],
            bus: [(); 2].map(|()| BinPowers::new(bins)),
            weight: 0.0,
            transforms: 0,
            bin_hz: rate_hz / length as f64,
        }
    }

    /// Frames that a transform looks back.
    pub(super) fn reach_frames(&self) -> usize {
        self.window.len()
    }

    /// Readies fresh spectra for a signal whose first frame is frame `frame` of a longer one.
    pub(super) fn start_at(&mut self, frame: u64) {
        self.schedule.start_at(frame);
    }

    /// Counts from here on.
    pub(super) fn begin(&mut self) {
        self.sum.fill(0.0);
        self.bus.iter_mut().for_each(|bus| bus.sum.fill(0.0));
        self.weight = 0.0;
        self.transforms = 0;
    }

    pub(super) fn reset(&mut self) {
        self.begin();
        self.filled = 0;
        self.schedule.restart();
    }

    pub(super) fn interrupt(&mut self) {
        self.filled = 0;
    }

    /// Goes on where `later` stands, as if this had taken what that did: means of both.
    pub(super) fn append(&mut self, mut later: Self) {
        later.sum.iter_mut().zip(&self.sum).for_each(|(to, from)| *to += from);
        for (later, earlier) in later.bus.iter_mut().zip(&self.bus) {
            later.append_to(earlier, 0.0);
        }
        later.weight += self.weight;
        later.transforms += self.transforms;
        *self = later;
    }

    pub(super) fn take(&mut self, pairs: &[PairBatch], count: usize) {
        let length = self.window.len();
        let mut start = 0;
        while start < count {
            start += self.schedule.pass_over(count - start);
            let more = (length - self.filled).min(count - start);
            for (frames, pair) in self.frames.iter_mut().zip(pairs) {
                let batch = pair.a[start..start + more].iter().zip(&pair.b[start..start + more]);
                let frames = &mut frames[self.filled..self.filled + more];
                for (frame, (&a, &b)) in frames.iter_mut().zip(batch) {
                    *frame = Complex32::new(a, b);
                }
            }
            self.filled += more;
            start += more;
            if self.filled == length {
                self.transform();
            }
        }
    }

    fn transform(&mut self) {
        let length = self.window.len();
        let turn = self.schedule.turn();
        let (kept, weight) = self.schedule.advance();
        for (index, frames) in self.frames.iter_mut().enumerate() {
            let Buffers { from, to, scratch } = self.buffers.get_mut();
            from.copy_from_slice(frames);
            self.arch.dispatch(Windowed { frames: from, window: &self.window });
            frames.copy_within(length - kept.., 0);
            self.fft.process_outofplace_with_scratch(from, to, scratch);
            let bus = &mut self.bus[turn];
            // Both halves of the spectrum count, and 0 Hz once.
            bus.sum[0] += weight * f64::from(to[0].norm_sqr());
            Transformed::new(to, 0..length / 2, weight as f32, Kept { latest: 0.0, sum: 1.0 })
                .add_powers(self.arch, bus, 0.0);
            if index < self.halves_pairs {
                let (ahead, back) = (&to[1..length / 2], to[length / 2 + 1..].iter().rev());
                for ((&one, &other), sum) in ahead.iter().zip(back).zip(&mut self.sum[1..]) {
                    // 2A and 2B·i.
                    let (a, b) = (one + other.conj(), one - other.conj());
                    let both = Complex32::new(a.re + b.im, a.im - b.re);
                    *sum += weight * 0.5 * f64::from(both.norm_sqr());
                }
            }
        }
        self.filled = kept;
        self.weight += weight;
        self.transforms += 1;
    }

    /// The mean since reset.
    pub(crate) fn mean(&self) -> FineSpectrum {
        let share = if self.weight > 0.0 { 1.0 / self.weight } else { 0.0 };
        let [even, odd] = &self.bus;
        let mean = |power: f64| (power * share) as f32;
        FineSpectrum {
            sum: self.sum.iter().map(|&power| mean(power)).collect(),
            bus: even.sum.iter().zip(&odd.sum).map(|(even, odd)| mean(even + odd)).collect(),
            transforms: self.transforms,
            bin_hz: self.bin_hz,
        }
    }

    /// Powers of the bus since reset, of every other transform each.
    pub(super) fn in_turns(&self) -> Powers<'_> {
        let sets = self.bus.each_ref().map(|bus| bus.sum.as_slice());
        Powers { sets, bin_hz: self.bin_hz, fft: &*self.fft, buffers: &self.buffers }
    }
}

/// The longest length that is transformed well, in frames.
fn length(rate_hz: f64) -> usize {
    let most = (MOST_S * rate_hz) as usize;
    let lengths = (1..40).flat_map(|power| FACTORS.map(|factor| factor << power));
    lengths.filter(|&length| length <= most).max().unwrap_or(16)
}
