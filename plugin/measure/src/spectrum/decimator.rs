//! Takes a pair of channels down to about 1500 Hz, so that a short transform resolves the lowest
//! frequencies.

use pulp::{Arch, Simd, WithSimd};

use crate::batch::{BATCH_FRAMES, Batch, PairBatch};
use crate::fir;

/// Rate aimed at, in Hz.
const LOW_RATE_HZ: f64 = 1_500.0;
/// Length of the filter on either side, in samples of the low rate.
const REACH: usize = 4;
/// Ripple and stop band, in decibels. Flat to a share of 0.187 of the low rate (257 Hz at the least),
/// and what folds down to there is that far down.
const ATTENUATION_DB: f64 = 80.0;

/// Sums that a sample of the low rate is added up in.
const LANES: usize = 8;
/// A sample of the low rate of a and b that is not complete.
type Coming = [[f32; LANES]; 2];

pub(crate) struct Decimator {
    arch: Arch,
    factor: usize,
    /// How many taps the filter has.
    length: usize,
    /// The taps, the same forwards and backwards, with a batch of zeros on either side.
    taps: Vec<f32>,
    /// Every sample that a batch reaches, the next first.
    coming: Vec<Coming>,
    /// Frames until the next is complete.
    until_next: usize,
}

impl Decimator {
    pub(crate) fn new(rate_hz: f64) -> Self {
        let factor = (rate_hz / LOW_RATE_HZ).round().max(1.0) as usize;
        let taps = fir::low_pass(0.5 / factor as f64, REACH * factor, ATTENUATION_DB);
        let mut padded = vec![0.0; taps.len() + 2 * BATCH_FRAMES];
        padded[BATCH_FRAMES..].iter_mut().zip(&taps).for_each(|(slot, tap)| *slot = *tap as f32);
        let most = (taps.len() + BATCH_FRAMES - 2) / factor + 1;
        Self {
            arch: Arch::new(),
            factor,
            length: taps.len(),
            taps: padded,
            coming: vec![[[0.0; LANES]; 2]; most],
            until_next: factor,
        }
    }

    /// The largest share of a power that is left of what folds down to where the filter is flat.
    pub(crate) fn image_power() -> f64 {
        10f64.powf(-ATTENUATION_DB / 10.0)
    }

    /// Samples in for one out.
    pub(crate) fn factor(&self) -> usize {
        self.factor
    }

    pub(crate) fn reset(&mut self) {
        self.coming.fill([[0.0; LANES]; 2]);
        self.until_next = self.factor;
    }

    /// Goes on from where `other`, at the same rate, stands.
    pub(crate) fn follow(&mut self, other: &Self) {
        self.coming.copy_from_slice(&other.coming);
        self.until_next = other.until_next;
    }

    /// Readies a fresh decimator for a signal whose first frame is frame `frame` of a longer one.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.until_next = self.factor - (frame % self.factor as u64) as usize;
    }

    /// How far back an output reaches, in samples of the input.
    pub(crate) fn reach(&self) -> usize {
        self.length
    }

    /// Takes the first `count` frames of a batch and hands each sample of the low rate to `out`. Only
    /// before a reset may that not be all.
    pub(crate) fn take(&mut self, pair: &PairBatch, count: usize, mut out: impl FnMut(f32, f32)) {
        let Self { arch, factor, length, taps, coming, until_next } = self;
        let mut begun = PairBatch::SILENCE;
        let pair = if count < BATCH_FRAMES {
            begun.a[..count].copy_from_slice(&pair.a[..count]);
            begun.b[..count].copy_from_slice(&pair.b[..count]);
            &begun
        } else {
            pair
        };
        // The sample that is complete with a frame finds its last tap there.
        let last = BATCH_FRAMES + *length - *until_next;
        arch.dispatch(Lower { pair, taps, last, factor: *factor, coming });
        let complete = (count + *factor - *until_next) / *factor;
        for [a, b] in &coming[..complete] {
            out(a.iter().sum(), b.iter().sum());
        }
        coming.copy_within(complete.., 0);
        let kept = coming.len() - complete;
        coming[kept..].fill([[0.0; LANES]; 2]);
        *until_next = *until_next + complete * *factor - count;
    }
}

/// Brings a batch to the samples of the low rate that it reaches.
struct Lower<'a> {
    pair: &'a PairBatch,
    taps: &'a [f32],
    /// Where the first frame finds its weight for the next sample; for each further one, `factor` before.
    last: usize,
    factor: usize,
    coming: &'a mut [Coming],
}

impl WithSimd for Lower<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        const { assert!(LANES.is_multiple_of(S::F32_LANES)) };
        let Self { pair, taps, last, factor, coming } = self;
        let [a, b] = [&pair.a, &pair.b].map(|batch| batch.as_chunks::<LANES>().0);
        for (ahead, [of_a, of_b]) in coming.iter_mut().enumerate() {
            let Some(first) = last.checked_sub(ahead * factor) else { break };
            let weights: &Batch = taps[first..].first_chunk().expect("zeros on either side");
            let weights = weights.as_chunks::<LANES>().0;
            let [of_a, of_b] = [of_a, of_b].map(|lanes| S::as_mut_simd_f32s(lanes).0);
            for (lane, (of_a, of_b)) in of_a.iter_mut().zip(of_b).enumerate() {
                let [mut sum_a, mut sum_b] = [*of_a, *of_b];
                for ((a, b), weights) in a.iter().zip(b).zip(weights) {
                    let [a, b, weight] = [a, b, weights].map(|of| S::as_simd_f32s(of).0[lane]);
                    sum_a = simd.mul_add_e_f32s(a, weight, sum_a);
                    sum_b = simd.mul_add_e_f32s(b, weight, sum_b);
                }
                (*of_a, *of_b) = (sum_a, sum_b);
            }
        }
    }
}

#[cfg(test)]
mod tests;
