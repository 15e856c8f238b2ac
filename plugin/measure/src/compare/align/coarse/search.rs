//! Windows of one file's features looked for in another's, by overlap-save correlation.

use std::sync::Arc;

use realfft::num_complex::Complex32;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use super::Track;
use crate::compare::profile::{FEATURE_BANDS, Features};
use crate::compare::share::{share, threads};

/// Length of a transform, in hops.
const TRANSFORM_HOPS: usize = 16_384;
/// Windows whose transforms are kept at a time.
const BATCH_WINDOWS: usize = 32;
/// Places kept for a window.
const MOST_FINDS: usize = 6;
/// Two places closer than this, in hops, are one.
const APART_HOPS: usize = 6;
/// Likeness of a place that is kept.
const LEAST_LIKENESS: f64 = 0.25;
/// Mean square of a window's features below which it tells nothing: steady sound, or silence.
const LEAST_POWER: f64 = 0.003;
/// How far from its track a window may lie, in hops.
const TRACK_SLACK: i64 = 3;

/// A place of a window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Find {
    /// Hops of the mix less hops of the export.
    pub offset: i64,
    /// Normalised correlation.
    pub likeness: f64,
}

/// The windows.
pub(super) struct Windows<'a> {
    export: &'a Features,
    length: usize,
    step: usize,
    energies: Vec<f64>,
}

impl<'a> Windows<'a> {
    pub fn new(export: &'a Features, length: usize, step: usize) -> Self {
        let sums = energy_sums(export);
        let energies = (0..=export.hops().saturating_sub(length))
            .step_by(step)
            .map(|start| sums[start + length] - sums[start])
            .collect();
        Self { export, length, step, energies }
    }

    pub fn count(&self) -> usize {
        self.energies.len()
    }

    fn start(&self, window: usize) -> usize {
        window * self.step
    }

    /// The hop in the middle of a window.
    pub fn middle(&self, window: usize) -> usize {
        self.start(window) + self.length / 2
    }

    /// Whether a window's features move enough to be recognised.
    pub fn tells(&self, window: usize) -> bool {
        self.energies[window] >= LEAST_POWER * (FEATURE_BANDS * self.length) as f64
    }

    /// Likeness of every window with the mix where each of the tracks has it.
    pub fn likeness(&self, mix: &Features, tracks: &[Track]) -> Vec<Vec<f64>> {
        let all: Vec<usize> = (0..self.count()).collect();
        let on = |window: &usize| {
            tracks.iter().map(|track| self.likeness_on(mix, *window, *track)).collect()
        };
        share(&all, vec![(); threads(all.len())], |()| (), |(), window| on(window))
    }

    /// Likeness of a window with the mix where a track has it, the best within the track's slack.
    fn likeness_on(&self, mix: &Features, window: usize, track: Track) -> f64 {
        if !self.tells(window) {
            return 0.0;
        }
        let offset = track.offset_at(self.middle(window) as f64).round() as i64;
        (-TRACK_SLACK..=TRACK_SLACK)
            .map(|slack| self.likeness_at(mix, window, offset + slack))
            .fold(-1.0, f64::max)
    }

    /// Normalised correlation over what of the window lies in the mix, if that is half of it.
    fn likeness_at(&self, mix: &Features, window: usize, offset: i64) -> f64 {
        let start = self.start(window) as i64;
        let from = start.max(-offset);
        let to = (start + self.length as i64).min(mix.hops() as i64 - offset);
        if to - from < self.length as i64 / 2 {
            return 0.0;
        }
        let (mut xy, mut xx, mut yy) = (0.0, 0.0, 0.0);
        for (x, y) in mix.bands.iter().zip(&self.export.bands) {
            let x = &x[(from + offset) as usize..(to + offset) as usize];
            let y = &y[from as usize..to as usize];
            for (&x, &y) in x.iter().zip(y) {
                let (x, y) = (f64::from(x), f64::from(y));
                xy += x * y;
                xx += x * x;
                yy += y * y;
            }
        }
        let norm = (xx * yy).sqrt();
        if norm > 0.0 { xy / norm } else { 0.0 }
    }

    /// The likeliest places of every window in the mix, best first.
    pub fn find_in(&self, mix: &Features) -> Vec<Vec<Find>> {
        let sums = energy_sums(mix);
        let telling: Vec<usize> = (0..self.count()).filter(|&window| self.tells(window)).collect();
        let batches: Vec<&[usize]> = telling.chunks(BATCH_WINDOWS).collect();
        let transforms = Transforms::new();
        let seeds = vec![(); threads(batches.len())];
        let each = share(
            &batches,
            seeds,
            |()| transforms.clone(),
            |transforms, batch| self.find_batch(mix, &sums, batch, transforms),
        );
        let mut finds = vec![Vec::new(); self.count()];
        for (window, found) in telling.iter().zip(each.into_iter().flatten()) {
            finds[*window] = found;
        }
        finds
    }

    /// The likeliest places of some windows. `sums` are those of the mix's energies.
    fn find_batch(
        &self,
        mix: &Features,
        sums: &[f64],
        batch: &[usize],
        transforms: &mut Transforms,
    ) -> Vec<Vec<Find>> {
        let mut finds = vec![Vec::new(); batch.len()];
        let hop = TRANSFORM_HOPS - self.length;
        let patterns: Vec<[Vec<Complex32>; FEATURE_BANDS]> = batch
            .iter()
            .map(|&window| {
                let range = self.start(window)..self.start(window) + self.length;
                let bands = self.export.bands.each_ref();
                bands.map(|band| transforms.of(&band[range.clone()]))
            })
            .collect();
        for first in (0..mix.hops().saturating_sub(self.length) + 1).step_by(hop) {
            let end = (first + TRANSFORM_HOPS).min(mix.hops());
            let blocks = mix.bands.each_ref().map(|band| transforms.of(&band[first..end]));
            let places = (end - first).saturating_sub(self.length - 1).min(hop);
            for ((&window, pattern), finds) in batch.iter().zip(&patterns).zip(&mut finds) {
                let curve = transforms.correlate(pattern, &blocks);
                for (lag, &value) in curve[..places].iter().enumerate() {
                    let energy = sums[first + lag + self.length] - sums[first + lag];
                    let norm = (energy * self.energies[window]).sqrt() * TRANSFORM_HOPS as f64;
                    if f64::from(value) > LEAST_LIKENESS * norm {
                        let offset = (first + lag) as i64 - self.start(window) as i64;
                        let likeness = f64::from(value) / norm;
                        keep(finds, Find { offset, likeness });
                    }
                }
            }
        }
        finds
    }
}

/// The transforms, and what they work with.
#[derive(Clone)]
struct Transforms {
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    time: Vec<f32>,
    product: Vec<Complex32>,
}

impl Transforms {
    fn new() -> Self {
        let mut planner = RealFftPlanner::<f32>::new();
        let forward = planner.plan_fft_forward(TRANSFORM_HOPS);
        let inverse = planner.plan_fft_inverse(TRANSFORM_HOPS);
        let (time, product) = (forward.make_input_vec(), inverse.make_input_vec());
        Self { forward, inverse, time, product }
    }

    fn of(&mut self, part: &[f32]) -> Vec<Complex32> {
        self.time.fill(0.0);
        self.time[..part.len()].copy_from_slice(part);
        let mut bins = self.forward.make_output_vec();
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = self.forward.process(&mut self.time, &mut bins);
        bins
    }

    /// Correlation by lag, all bands together.
    fn correlate(
        &mut self,
        pattern: &[Vec<Complex32>; FEATURE_BANDS],
        blocks: &[Vec<Complex32>; FEATURE_BANDS],
    ) -> &[f32] {
        let Self { product, time, .. } = self;
        product.fill(Complex32::default());
        for (pattern, block) in pattern.iter().zip(blocks) {
            for ((product, block), bin) in product.iter_mut().zip(block).zip(pattern) {
                *product += block * bin.conj();
            }
        }
        product[0].im = 0.0;
        product[TRANSFORM_HOPS / 2].im = 0.0;
        let _ = self.inverse.process(product, time);
        time
    }
}

/// Keeps the best places, the best of each neighbourhood.
fn keep(finds: &mut Vec<Find>, find: Find) {
    let near = |other: &Find| other.offset.abs_diff(find.offset) < APART_HOPS as u64;
    if let Some(index) = finds.iter().position(near) {
        if finds[index].likeness >= find.likeness {
            return;
        }
        finds.remove(index);
    }
    let place = finds.partition_point(|other| other.likeness > find.likeness);
    if place < MOST_FINDS {
        finds.insert(place, find);
        finds.truncate(MOST_FINDS);
    }
}

/// Running sum of the squares of all bands.
fn energy_sums(features: &Features) -> Vec<f64> {
    let mut sums = Vec::with_capacity(features.hops() + 1);
    let mut sum = 0.0;
    sums.push(0.0);
    for hop in 0..features.hops() {
        sum += features.bands.iter().map(|band| f64::from(band[hop]).powi(2)).sum::<f64>();
        sums.push(sum);
    }
    sums
}
