//! Mean power spectra of the sum and of the bus from transforms of more than a second: fine enough for
//! the comb of a copy 200 ms late, and for correlations half a second apart. Not for an audio thread:
//! a transform comes all at once.

use std::f64::consts::TAU;
use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use crate::batch::PairBatch;

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

/// Long transforms of pairs of channels, each a half behind the one before.
pub(crate) struct LongSpectra {
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    /// `[pair][frame]`
    frames: Vec<Vec<Complex32>>,
    filled: usize,
    halves_pairs: usize,
    work: Vec<Complex32>,
    scratch: Vec<Complex32>,
    sum: Vec<f64>,
    bus: Vec<f64>,
    transforms: u64,
    bin_hz: f64,
}

impl LongSpectra {
    pub(super) fn new(rate_hz: f64, pairs: usize, halves_pairs: usize) -> Self {
        let length = length(rate_hz);
        let fft = FftPlanner::new().plan_fft_forward(length);
        // Hann, whose mean square is 3/8: the powers of all bins add up to the mean square.
        let scale = 1.0 / (length as f64 * (3.0f64 / 8.0).sqrt());
        let window = (0..length).map(|n| {
            let angle = TAU * n as f64 / length as f64;
            ((0.5 - 0.5 * angle.cos()) * scale) as f32
        });
        Self {
            window: window.collect(),
            frames: vec![vec![Complex32::default(); length]; pairs],
            filled: 0,
            halves_pairs,
            work: vec![Complex32::default(); length],
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            fft,
            sum: vec![0.0; length / 2],
            bus: vec![0.0; length / 2],
            transforms: 0,
            bin_hz: rate_hz / length as f64,
        }
    }

    pub(super) fn reset(&mut self) {
        self.interrupt();
        self.sum.fill(0.0);
        self.bus.fill(0.0);
        self.transforms = 0;
    }

    pub(super) fn interrupt(&mut self) {
        self.filled = 0;
    }

    pub(super) fn take(&mut self, pairs: &[PairBatch], count: usize) {
        let length = self.window.len();
        let mut start = 0;
        while start < count {
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
        for (index, frames) in self.frames.iter_mut().enumerate() {
            for ((work, frame), window) in self.work.iter_mut().zip(&*frames).zip(&self.window) {
                *work = frame * window;
            }
            frames.copy_within(length / 2.., 0);
            self.fft.process_with_scratch(&mut self.work, &mut self.scratch);
            let (ahead, back) =
                (&self.work[1..length / 2], self.work[length / 2 + 1..].iter().rev());
            let bins = ahead.iter().zip(back).zip(self.sum[1..].iter_mut().zip(&mut self.bus[1..]));
            for ((&one, &other), (sum, bus)) in bins {
                // 2A and 2B·i of a transform of A + i·B; both halves of the spectrum count.
                let (a, b) = (one + other.conj(), one - other.conj());
                if index < self.halves_pairs {
                    let both = Complex32::new(a.re + b.im, a.im - b.re);
                    *sum += 0.5 * f64::from(both.norm_sqr());
                }
                *bus += 0.5 * f64::from(a.norm_sqr() + b.norm_sqr());
            }
        }
        self.filled = length - length / 2;
        self.transforms += 1;
    }

    /// The mean since reset.
    pub(crate) fn mean(&self) -> FineSpectrum {
        let share = 1.0 / self.transforms.max(1) as f64;
        let mean = |powers: &[f64]| powers.iter().map(|power| (power * share) as f32).collect();
        FineSpectrum {
            sum: mean(&self.sum),
            bus: mean(&self.bus),
            transforms: self.transforms,
            bin_hz: self.bin_hz,
        }
    }
}

/// The longest length that is transformed well, in frames.
fn length(rate_hz: f64) -> usize {
    let most = (MOST_S * rate_hz) as usize;
    let lengths = (1..40).flat_map(|power| FACTORS.map(|factor| factor << power));
    lengths.filter(|&length| length <= most).max().unwrap_or(16)
}
