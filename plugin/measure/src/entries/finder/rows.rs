//! The powers of a bus's signals every 10 ms, by octave bands, as steps of level are found from them.

use std::ops::Range;
use std::sync::Arc;

use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::hann;
use crate::settings::Edges;

/// Rows a second.
pub(crate) const ROWS_A_SECOND: f64 = 100.0;
/// Half A, half B, A + B, A − B, the bus.
pub(crate) const SIGNALS: usize = 5;
/// Of [`SIGNALS`], of which the halves are the first two, their sum.
pub(crate) const SUM: usize = 2;
/// Of [`SIGNALS`], the one that all others are weighed against.
pub(crate) const BUS: usize = 4;
/// Octave bands, those below the first edge and above the last as one each.
pub(crate) const BANDS: usize = 12;
/// The first edge of a band, in Hz; each further one lies an octave higher.
pub(crate) const FIRST_EDGE_HZ: f64 = 88.39;
/// What rounding leaves of two halves that cancel, against what they hold.
const ROUNDING: f32 = 3e-6;
/// Space for the latest frames, in transforms: so seldom are they moved to its beginning.
const SPACE: usize = 4;
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
    /// `[pair]` of the latest frames, which end at `filled`.
    frames: Vec<Vec<Complex32>>,
    filled: usize,
    halves_pairs: usize,
    work: Vec<Complex32>,
    scratch: Vec<Complex32>,
    parts: Vec<Part>,
    rate_hz: f64,
    /// Frames taken, since whatever came before was forgotten.
    taken: u64,
    rows: u64,
}

impl RowMaker {
    pub(crate) fn new(rate_hz: f64, edges: Edges, pairs: usize, halves_pairs: usize) -> Self {
        let length = ((LEAST_S * rate_hz) as usize).next_power_of_two().max(BATCH_FRAMES);
        let fft = FftPlanner::new().plan_fft_forward(length);
        // The powers of all bins add up to the mean square.
        let scale = 1.0 / (length as f64 * hann::MEAN_SQUARE.sqrt());
        let window = hann::shape(length).into_iter().map(|w| (w * scale) as f32).collect();
        let bin = |hz: f64| ((hz * length as f64 / rate_hz).round() as usize).clamp(1, length / 2);
        let mut cuts: Vec<usize> = (0..BANDS as i32 - 1)
            .map(|octave| bin(FIRST_EDGE_HZ * 2f64.powi(octave)))
            .chain([1, length / 2, bin(edges.low_hz()), bin(edges.high_hz()) + 1])
            .collect();
        cuts.sort_unstable();
        cuts.dedup();
        let parts = cuts
            .windows(2)
            .filter(|cut| cut[1] <= length / 2)
            .map(|cut| {
                let hz = cut[0] as f64 * rate_hz / length as f64;
                let audible = bin(edges.low_hz())..=bin(edges.high_hz());
                // The middle of the first bin, as an edge is rounded to bins.
                let band = band_at(hz + 0.5 * rate_hz / length as f64);
                Part { bins: cut[0]..cut[1], band, is_audible: audible.contains(&cut[0]) }
            })
            .collect();
        Self {
            window,
            frames: vec![vec![Complex32::default(); SPACE * length]; pairs],
            filled: length,
            halves_pairs,
            work: vec![Complex32::default(); length],
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            fft,
            parts,
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
        let length = self.window.len();
        if self.filled + BATCH_FRAMES > SPACE * length {
            for frames in &mut self.frames {
                frames.copy_within(self.filled - length..self.filled, 0);
            }
            self.filled = length;
        }
        let to = self.filled..self.filled + BATCH_FRAMES;
        for (frames, pair) in self.frames.iter_mut().zip(batch) {
            let samples = pair.a.iter().zip(&pair.b);
            for (frame, (&a, &b)) in frames[to.clone()].iter_mut().zip(samples) {
                *frame = Complex32::new(a, b);
            }
        }
        self.filled = to.end;
        self.taken += BATCH_FRAMES as u64;
        while let Some(behind) = self.taken.checked_sub(self.due()) {
            self.rows += 1;
            let frame = end - behind - length as u64 / 2;
            row(Row { frame, signals: self.powers(self.filled - behind as usize) });
        }
    }

    /// How many frames are taken where the next row is complete.
    fn due(&self) -> u64 {
        self.window.len() as u64 + (self.rows as f64 * self.rate_hz / ROWS_A_SECOND) as u64
    }

    /// Of as many of the frames that are kept up to `end` as a transform takes.
    fn powers(&mut self, end: usize) -> [Powers; SIGNALS] {
        let mut signals = [Powers::default(); SIGNALS];
        let length = self.window.len();
        for (index, frames) in self.frames.iter().enumerate() {
            let latest = &frames[end - length..end];
            for ((work, frame), window) in self.work.iter_mut().zip(latest).zip(&self.window) {
                *work = frame * window;
            }
            self.fft.process_with_scratch(&mut self.work, &mut self.scratch);
            for part in &self.parts {
                let sums = Sums::of(&self.work, part.bins.clone());
                // Of a transform of A + i·B: what the bins of both signs say of A, B and both.
                let (a, b) = (sums.own / 2.0 + sums.even, sums.own / 2.0 - sums.even);
                let [both, apart] = [sums.own + 2.0 * sums.odd, sums.own - 2.0 * sums.odd]
                    .map(|power| if power < ROUNDING * sums.own { 0.0 } else { power });
                let halves = if index < self.halves_pairs { [a, b, both, apart] } else { [0.0; 4] };
                let all = halves.into_iter().chain([sums.own]);
                for (powers, power) in signals.iter_mut().zip(all) {
                    powers.bands[part.band] += power.max(0.0);
                    powers.audible += if part.is_audible { power.max(0.0) } else { 0.0 };
                }
            }
        }
        signals
    }
}

/// Bins that belong to one band, and that the audible band holds or not.
struct Part {
    bins: Range<usize>,
    band: usize,
    is_audible: bool,
}

/// Sums over the bins k of a transform Z, and over those at −k.
struct Sums {
    /// |Z(k)|² + |Z(−k)|².
    own: f32,
    /// Re Z(k)·Z(−k).
    even: f32,
    /// Im Z(k)·Z(−k).
    odd: f32,
}

impl Sums {
    fn of(transform: &[Complex32], bins: Range<usize>) -> Self {
        const LANES: usize = 8;
        let length = transform.len();
        let [mut own, mut even, mut odd] = [[0f32; LANES]; 3];
        let ahead = transform[bins.clone()].iter();
        let back = transform[length - bins.end + 1..=length - bins.start].iter().rev();
        for (index, (one, other)) in ahead.zip(back).enumerate() {
            let product = one * other;
            own[index % LANES] += one.norm_sqr() + other.norm_sqr();
            even[index % LANES] += product.re;
            odd[index % LANES] += product.im;
        }
        let [own, even, odd] = [own, even, odd].map(|lanes| lanes.iter().sum());
        Self { own, even, odd }
    }
}
