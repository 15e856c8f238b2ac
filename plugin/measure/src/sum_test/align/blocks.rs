//! Short blocks of a feed, looked for in a recording: how late each comes against a clock.
//!
//! How a block correlates with the recording, lag by lag, is the path's response with some noise. A
//! path with an echo has several peaks, and noise decides which is largest; so a block's lag is not
//! its largest peak but where its correlation fits that of the clearest block best: whatever the path
//! does, it does the same to both. Markers correlate with themselves in a symmetrical way, so they fit
//! in the same place.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex32;

use super::clock::{Clock, maximum_near};
use super::is_telling;
use crate::sum_test::feed::{Feed, USUAL_LEVEL_DBFS};
use crate::sum_test::schedule::{Schedule, Sound};

/// Length of a block, in seconds: at 10 ppm of error it smears by less than a tenth of a sample.
const BLOCK_S: f64 = 0.17;
/// Where the first block begins in a step, how far before the step's end the last one does, and how
/// far they are apart at most, in seconds.
const BLOCKS_S: (f64, f64, f64) = (0.2, 0.4, 1.5);
/// A slow step is not looked at in more places than this.
const MOST_BLOCKS: usize = 8;
/// Least likeness of a block that counts.
const LEAST_LIKENESS: f64 = 0.15;
/// A maximum this near the border of a search, in frames, is none.
const BORDER_FRAMES: usize = 8;
/// Correlations of more values than these are made by way of spectra.
const MOST_DIRECT: usize = 200;

/// A block that was found.
#[derive(Debug, Clone, Copy)]
pub(super) struct Block {
    /// The step that it lies in; a marker lies in none.
    pub step: Option<usize>,
    /// The middle of it, in frames of the test.
    pub middle: f64,
    /// How much later than the clock says it comes, in frames of the test.
    pub lag: f64,
    /// Whether the recording turns its polarity.
    pub sign: f64,
}

/// What was found of one feed.
pub(super) struct Found {
    /// In the order of time.
    pub blocks: Vec<Block>,
    /// Whether one was not found.
    pub missing: bool,
}

/// Looks for blocks around the places where a clock has them.
pub(super) struct Listener<'a> {
    pub signal: &'a [f32],
    pub schedule: &'a Schedule,
    pub clock: Clock,
    /// How far around, in frames.
    pub search: usize,
}

/// A block's correlation with the recording, by lag.
struct Correlation {
    step: Option<usize>,
    middle: f64,
    products: Vec<f64>,
    best: usize,
    likeness: f64,
}

impl Listener<'_> {
    /// The feed's noise, and its markers, where either sounds without the other feed's.
    pub fn find(&self, feed: Feed) -> Found {
        let schedule = self.schedule;
        let frames = |s: f64| (s * schedule.rate_hz()) as u64;
        let lag = match feed {
            Feed::One => 0,
            Feed::Two => schedule.feed_lag_frames(),
        };
        let noises = schedule
            .step_starts()
            .filter(|(step, _)| is_telling(*step, feed))
            .flat_map(|step| offsets_s(schedule).map(move |offset_s| (step, offset_s)))
            .map(|((step, start), offset_s)| {
                (Some(step), start + frames(offset_s), frames(BLOCK_S))
            });
        let marker = |start: u64| (None, start + lag, schedule.marker_frames());
        let sought = std::iter::once(marker(schedule.opening_frames()))
            .chain(noises)
            .chain([marker(schedule.closing_frames())])
            .filter(|(_, first, length)| self.holds(*first, *length));
        let mut missing = false;
        let heard: Vec<Correlation> = sought
            .filter_map(|(step, first, length)| {
                let mut known = vec![0.0; length as usize];
                feed.fill(schedule, first, USUAL_LEVEL_DBFS, &mut known);
                let found = self.correlate(&known, step, first);
                missing |= found.is_none();
                found
            })
            .collect();
        let noises = heard.iter().filter(|heard| heard.step.is_some());
        let clearest = noises.max_by(|x, y| x.likeness.total_cmp(&y.likeness));
        let Some(clearest) = clearest else { return Found { blocks: Vec::new(), missing } };
        let best = clearest.best as f64 + maximum_near(&clearest.products, clearest.best);
        let blocks = heard
            .iter()
            .map(|heard| {
                let apart = apart(&clearest.products, &heard.products);
                // The peak that is the clearest block's largest, wherever it lies here.
                let peak = (clearest.best as f64 + apart).round().max(0.0) as usize;
                let sign = heard.products.get(peak).map_or(1.0, |product| product.signum());
                Block {
                    step: heard.step,
                    middle: heard.middle,
                    lag: best + apart - self.search as f64,
                    sign,
                }
            })
            .collect();
        Found { blocks, missing }
    }

    /// Whether the recording holds these frames of the test.
    fn holds(&self, first: u64, length: u64) -> bool {
        let [start, end] = [first, first + length].map(|at| self.clock.place(at as f64));
        start >= 0.0 && end <= self.signal.len() as f64
    }

    /// Whether a noise that begins at a frame of the test sounds there; `None` where the recording
    /// does not go.
    pub fn hears(&self, noise: Sound, start: u64) -> Option<bool> {
        let rate_hz = self.schedule.rate_hz();
        let [offset, length] = [BLOCKS_S.0, BLOCK_S].map(|s| (s * rate_hz) as u64);
        self.holds(start + offset, length).then_some(())?;
        let known: Vec<f32> =
            (offset..offset + length).map(|n| noise.value(rate_hz, n) as f32).collect();
        Some(self.correlate(&known, None, start + offset).is_some())
    }

    fn correlate(&self, known: &[f32], step: Option<usize>, first: u64) -> Option<Correlation> {
        let length = known.len();
        let start = self.clock.place(first as f64) - self.search as f64 * self.clock.stretch;
        let heard = self.clock.resample_from(self.signal, start, length + 2 * self.search);
        let products = correlation(known, &heard, 2 * self.search + 1);
        let best =
            (0..products.len()).max_by(|&x, &y| products[x].abs().total_cmp(&products[y].abs()))?;
        let power = |samples: &[f32]| samples.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
        let window = &heard[best..best + length];
        let likeness = products[best].abs() / (power(known) * power(window)).sqrt();
        let inside = BORDER_FRAMES..products.len() - BORDER_FRAMES;
        // NaN comes from silence.
        if likeness.is_nan() || likeness < LEAST_LIKENESS || !inside.contains(&best) {
            return None;
        }
        let middle = first as f64 + length as f64 / 2.0;
        Some(Correlation { step, middle, products, best, likeness })
    }
}

/// Where blocks begin in a step, in seconds.
fn offsets_s(schedule: &Schedule) -> impl Iterator<Item = f64> {
    let (first_s, before_end_s, apart_s) = BLOCKS_S;
    let span_s = schedule.step_frames() as f64 / schedule.rate_hz() - first_s - before_end_s;
    let gaps = ((span_s / apart_s).ceil() as usize).min(MOST_BLOCKS - 1);
    (0..=gaps).map(move |index| first_s + span_s * index as f64 / gaps as f64)
}

/// By how many frames `later` has to be moved back to fit `earlier` best.
fn apart(earlier: &[f64], later: &[f64]) -> f64 {
    let count = earlier.len();
    let narrow = |values: &[f64]| values.iter().map(|&x| x as f32).collect::<Vec<f32>>();
    let mut padded = vec![0.0; 3 * count - 2];
    padded[count - 1..2 * count - 1].copy_from_slice(&narrow(later));
    let products = correlation(&narrow(earlier), &padded, 2 * count - 1);
    let best = (0..products.len()).max_by(|&x, &y| products[x].total_cmp(&products[y]));
    let best = best.unwrap_or(count - 1);
    best as f64 + maximum_near(&products, best) - (count - 1) as f64
}

/// Products of `known` with `heard` from each of the first `lags` samples on.
fn correlation(known: &[f32], heard: &[f32], lags: usize) -> Vec<f64> {
    if lags > MOST_DIRECT {
        return correlation_by_spectra(known, heard, lags);
    }
    let dot = |x: &[f32], y: &[f32]| -> f64 {
        x.chunks(256)
            .zip(y.chunks(256))
            .map(|(x, y)| f64::from(x.iter().zip(y).map(|(x, y)| x * y).sum::<f32>()))
            .sum()
    };
    (0..lags).map(|lag| dot(known, &heard[lag..lag + known.len()])).collect()
}

fn correlation_by_spectra(known: &[f32], heard: &[f32], lags: usize) -> Vec<f64> {
    let size = heard.len().next_power_of_two();
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let spectrum = |samples: &[f32]| -> Vec<Complex32> {
        let mut time = samples.to_vec();
        time.resize(size, 0.0);
        let mut spectrum = forward.make_output_vec();
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = forward.process(&mut time, &mut spectrum);
        spectrum
    };
    let (known, heard) = (spectrum(known), spectrum(heard));
    let mut product: Vec<Complex32> =
        known.iter().zip(&heard).map(|(known, heard)| known.conj() * heard).collect();
    product[0].im = 0.0;
    product[size / 2].im = 0.0;
    let mut time = inverse.make_output_vec();
    let _ = inverse.process(&mut product, &mut time);
    time[..lags].iter().map(|&x| f64::from(x) / size as f64).collect()
}
