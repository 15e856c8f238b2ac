//! The powers of a bus's signals every 10 ms, by octave bands, as steps of level are found from them.

use std::f64::consts::TAU;
use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::settings::Edges;

/// Rows a second.
pub(crate) const ROWS_A_SECOND: f64 = 100.0;
/// Half A, half B, A + B, A − B, the bus.
pub(crate) const SIGNALS: usize = 5;
/// Of [`SIGNALS`], the one that all others are weighed against.
pub(crate) const BUS: usize = 4;
/// Octave bands, those below the first edge and above the last as one each.
pub(crate) const BANDS: usize = 12;
/// The first edge of a band, in Hz; each further one lies an octave higher.
const FIRST_EDGE_HZ: f64 = 88.39;
/// Length of a transform, at least, in seconds.
const LEAST_S: f64 = 0.016;

/// How wide a band is, in Hz, the rate apart.
pub(crate) fn band_width_hz(band: usize) -> f64 {
    FIRST_EDGE_HZ * 2f64.powi(band as i32 - 1).max(1.0)
}

/// The band that a frequency lies in.
pub(crate) fn band_at(hz: f64) -> usize {
    let octaves = (hz / FIRST_EDGE_HZ).log2() + 1.0;
    (octaves.max(0.0) as usize).min(BANDS - 1)
}

/// Powers of one signal.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Powers {
    /// By octave band.
    pub(crate) bands: [f32; BANDS],
    /// Between the edges of the audible band.
    pub(crate) audible: f32,
}

impl Powers {
    /// Of all bands together.
    pub(crate) fn whole(&self) -> f32 {
        self.bands.iter().sum()
    }

    /// Of all bands but the lowest.
    pub(crate) fn above_lowest(&self) -> f32 {
        self.bands[1..].iter().sum()
    }

    /// Adds others.
    pub(crate) fn add(&mut self, other: &Self) {
        self.bands.iter_mut().zip(other.bands).for_each(|(own, other)| *own += other);
        self.audible += other.audible;
    }
}

/// The powers of all signals around one moment.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Row {
    /// The frame in the middle of the stretch that the powers are of.
    pub(crate) frame: u64,
    pub(crate) signals: [Powers; SIGNALS],
}

/// Makes rows from batches.
pub(crate) struct RowMaker {
    fft: Arc<dyn Fft<f32>>,
    window: Vec<f32>,
    /// `[pair]` of the latest frames.
    frames: Vec<Vec<Complex32>>,
    halves_pairs: usize,
    work: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// The first bin of each octave band and the end of the last, and those of the audible band.
    band_bins: [usize; BANDS + 1],
    audible_bins: [usize; 2],
    rate_hz: f64,
    /// Frames taken, since whatever came before was forgotten.
    taken: u64,
    rows: u64,
}

impl RowMaker {
    pub(crate) fn new(rate_hz: f64, edges: Edges, pairs: usize, halves_pairs: usize) -> Self {
        let length = ((LEAST_S * rate_hz) as usize).next_power_of_two().max(2 * BATCH_FRAMES);
        let fft = FftPlanner::new().plan_fft_forward(length);
        // Hann, whose mean square is 3/8: the powers of all bins add up to the mean square.
        let scale = 1.0 / (length as f64 * (3.0f64 / 8.0).sqrt());
        let window = (0..length)
            .map(|n| ((0.5 - 0.5 * (TAU * n as f64 / length as f64).cos()) * scale) as f32)
            .collect();
        let bin = |hz: f64| ((hz * length as f64 / rate_hz).round() as usize).clamp(1, length / 2);
        let mut band_bins = [0; BANDS + 1];
        for (index, first) in band_bins.iter_mut().enumerate().skip(1) {
            *first = bin(FIRST_EDGE_HZ * 2f64.powi(index as i32 - 1));
        }
        band_bins[BANDS] = length / 2;
        Self {
            window,
            frames: vec![vec![Complex32::default(); length]; pairs],
            halves_pairs,
            work: vec![Complex32::default(); length],
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            fft,
            band_bins,
            audible_bins: [bin(edges.low_hz()), bin(edges.high_hz()) + 1],
            rate_hz,
            taken: 0,
            rows: 0,
        }
    }

    /// Forgets what came before.
    pub(crate) fn reset(&mut self) {
        (self.taken, self.rows) = (0, 0);
    }

    /// Takes a batch that ends at frame `end`, and gives `row` the rows that are complete.
    pub(crate) fn take(&mut self, batch: &[PairBatch], end: u64, mut row: impl FnMut(Row)) {
        for (frames, pair) in self.frames.iter_mut().zip(batch) {
            frames.copy_within(BATCH_FRAMES.., 0);
            let from = frames.len() - BATCH_FRAMES;
            let samples = pair.a.iter().zip(&pair.b);
            for (frame, (&a, &b)) in frames[from..].iter_mut().zip(samples) {
                *frame = Complex32::new(a, b);
            }
        }
        self.taken += BATCH_FRAMES as u64;
        let length = self.window.len() as u64;
        let due = length + (self.rows as f64 * self.rate_hz / ROWS_A_SECOND) as u64;
        if self.taken >= due {
            self.rows += 1;
            row(Row { frame: end - length / 2, signals: self.powers() });
        }
    }

    fn powers(&mut self) -> [Powers; SIGNALS] {
        let mut signals = [Powers::default(); SIGNALS];
        let length = self.window.len();
        for (index, frames) in self.frames.iter().enumerate() {
            for ((work, frame), window) in self.work.iter_mut().zip(frames).zip(&self.window) {
                *work = frame * window;
            }
            self.fft.process_with_scratch(&mut self.work, &mut self.scratch);
            let is_half = index < self.halves_pairs;
            for band in 0..BANDS {
                for bin in self.band_bins[band].max(1)..self.band_bins[band + 1] {
                    let (one, other) = (self.work[bin], self.work[length - bin]);
                    // 2A and 2B·i of a transform of A + i·B; both halves of the spectrum count.
                    let (a, b) = (one + other.conj(), one - other.conj());
                    let both = Complex32::new(a.re + b.im, a.im - b.re).norm_sqr() / 2.0;
                    let apart = Complex32::new(a.re - b.im, a.im + b.re).norm_sqr() / 2.0;
                    let (a, b) = (a.norm_sqr() / 2.0, b.norm_sqr() / 2.0);
                    let all = if is_half {
                        [a, b, both, apart, a + b]
                    } else {
                        [0.0, 0.0, 0.0, 0.0, a + b]
                    };
                    let is_audible = (self.audible_bins[0]..self.audible_bins[1]).contains(&bin);
                    for (powers, power) in signals.iter_mut().zip(all) {
                        powers.bands[band] += power;
                        powers.audible += if is_audible { power } else { 0.0 };
                    }
                }
            }
        }
        signals
    }
}
