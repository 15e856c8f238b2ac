//! Finds where a late copy comes, goes or moves while the level stays: a step that no level shows.
//!
//! Transforms of 0.8 s, each a half behind the one before, are asked for a comb. Where two in a row agree
//! on another answer than before, the place is found from the products of the sound with itself at the
//! comb's delay.

use std::f64::consts::TAU;
use std::sync::Arc;

use realfft::RealToComplex;

use super::cepstrum::{Cepstrum, Plans};
use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::hann;

/// Length of a transform and of what is kept, in seconds.
const FRAME_S: f64 = 0.8;
const KEPT_S: f64 = 2.9;
/// Up to here a comb is looked for, in Hz.
const HIGHEST_HZ: f64 = 5_000.0;
/// A comb, and none: heights of the highest peak.
const COMB: f64 = 0.15;
const NO_COMB: f64 = 0.08;
/// Two delays that differ by less are one, in seconds.
const SAME_S: f64 = 0.000_1;
/// Answers that have to agree.
const AGREE: u32 = 2;
/// Without an answer for so many transforms, what was before is forgotten.
const FORGET: u32 = 3;
/// By how many standard deviations they have to step.
const LEAST_DEVIATIONS: f64 = 8.0;
/// Products are taken from here up, in Hz.
const LOWEST_HZ: f64 = 3000.0;
/// Products are taken over so many a second.
const ROWS_A_SECOND: f64 = 100.0;

/// Whether a sound holds a late copy of itself.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Answer {
    No,
    /// By so many seconds.
    Late(f64),
}

impl Answer {
    fn is_as(self, other: Self) -> bool {
        match (self, other) {
            (Self::No, Self::No) => true,
            (Self::Late(one), Self::Late(other)) => (one - other).abs() < SAME_S,
            _ => false,
        }
    }
}

pub(super) struct CombWatch {
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    plans: Plans,
    rate_hz: f64,
    halves_pairs: usize,
    /// The latest frames of the sum.
    kept: Vec<f32>,
    most_kept: usize,
    until_due: usize,
    settled: Option<Answer>,
    next: Option<(Answer, u32)>,
    unanswered: u32,
}

impl CombWatch {
    pub(super) fn new(rate_hz: f64, halves_pairs: usize) -> Self {
        let length = ((FRAME_S * rate_hz) as usize).next_multiple_of(2 * BATCH_FRAMES);
        let window = hann::shape(length).into_iter().map(|w| w as f32).collect();
        Self {
            fft: realfft::RealFftPlanner::new().plan_fft_forward(length),
            window,
            plans: Plans::default(),
            rate_hz,
            halves_pairs,
            kept: Vec::new(),
            most_kept: (KEPT_S * rate_hz) as usize,
            until_due: length,
            settled: None,
            next: None,
            unanswered: 0,
        }
    }

    /// What comes does not go on from what came.
    pub(super) fn cut(&mut self) {
        self.kept.clear();
        self.until_due = self.window.len();
        (self.settled, self.next, self.unanswered) = (None, None, 0);
    }

    /// Takes a batch that ends at frame `end`, and says at which frame a copy came, went or moved.
    pub(super) fn take(&mut self, batch: &[PairBatch], end: u64) -> Option<u64> {
        let halves = &batch[..self.halves_pairs.clamp(1, batch.len())];
        let sum =
            |frame: usize| halves.iter().map(|pair| pair.a[frame] + pair.b[frame]).sum::<f32>();
        self.kept.extend((0..BATCH_FRAMES).map(sum));
        self.until_due = self.until_due.saturating_sub(BATCH_FRAMES);
        if self.until_due > 0 {
            return None;
        }
        self.until_due = self.window.len() / 2;
        if self.kept.len() > 2 * self.most_kept {
            self.kept.drain(..self.kept.len() - self.most_kept);
        }
        let delay_s = self.hear()?;
        let place = self.place(delay_s)?;
        Some(end - self.kept.len().min(self.most_kept) as u64 + place as u64)
    }

    /// Asks the latest transform, and says at which delay a copy came, went or moved.
    fn hear(&mut self) -> Option<f64> {
        let Some(answer) = self.answer() else {
            self.next = None;
            self.unanswered += 1;
            if self.unanswered >= FORGET {
                self.settled = None;
            }
            return None;
        };
        self.unanswered = 0;
        if self.settled.is_some_and(|settled| settled.is_as(answer)) {
            self.next = None;
            return None;
        }
        let agreed = match self.next {
            Some((next, count)) if next.is_as(answer) => count + 1,
            _ => 1,
        };
        self.next = Some((answer, agreed));
        if agreed < AGREE {
            return None;
        }
        self.next = None;
        match (self.settled.replace(answer)?, answer) {
            (_, Answer::Late(delay_s)) | (Answer::Late(delay_s), Answer::No) => Some(delay_s),
            (Answer::No, Answer::No) => None,
        }
    }

    /// What the latest transform says; nothing where the sound is no noise, or it is not clear.
    fn answer(&self) -> Option<Answer> {
        let length = self.window.len();
        let frames = self.latest(length)?;
        let mut input: Vec<f32> = frames.iter().zip(&self.window).map(|(x, w)| x * w).collect();
        let mut output = self.fft.make_output_vec();
        // The lengths are the plan's own.
        self.fft.process(&mut input, &mut output).ok()?;
        let bin_hz = self.rate_hz / length as f64;
        let last = ((HIGHEST_HZ / bin_hz) as usize).min(output.len() - 1);
        let levels: Vec<f64> = output[..=last]
            .iter()
            .map(|value| 10.0 * f64::from(value.norm_sqr().max(f32::MIN_POSITIVE)).log10())
            .collect();
        let bins: Vec<usize> = ((100.0 / bin_hz) as usize..last).collect();
        let cepstrum = Cepstrum::new(&self.plans, &bins, bin_hz, &|bin| levels[bin])?;
        match cepstrum.peak() {
            Some((delay_s, height))
                if height.abs() >= COMB
                    && cepstrum.is_comb(delay_s, height)
                    && cepstrum.is_noise_like(height, [1]) =>
            {
                Some(Answer::Late(delay_s))
            }
            _ if cepstrum.highest() < NO_COMB && cepstrum.is_noise_like(0.0, [1]) => {
                Some(Answer::No)
            }
            _ => None,
        }
    }

    fn latest(&self, frames: usize) -> Option<&[f32]> {
        self.kept.get(self.kept.len().checked_sub(frames)?..)
    }

    /// The frame among the latest that are kept at which the products of the sound with itself, so late, step.
    fn place(&self, delay_s: f64) -> Option<usize> {
        let late = (delay_s * self.rate_hz).round() as usize;
        let row = (self.rate_hz / ROWS_A_SECOND) as usize;
        // Without what is low and slow, which says little in 10 ms.
        let keep = (-TAU * LOWEST_HZ / self.rate_hz).exp() as f32;
        let kept = &self.kept[self.kept.len().saturating_sub(self.most_kept)..];
        let high: Vec<f32> = kept.windows(2).map(|two| two[1] - keep * two[0]).collect();
        let products: Vec<f64> = high
            .get(late..)?
            .chunks_exact(row)
            .zip(high.chunks_exact(row))
            .map(|(now, before)| {
                let sum = |of: &mut dyn Iterator<Item = f32>| of.map(f64::from).sum::<f64>();
                let product = sum(&mut now.iter().zip(before).map(|(x, y)| x * y));
                product / sum(&mut now.iter().map(|x| x * x)).max(f64::MIN_POSITIVE)
            })
            .collect();
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len().max(1) as f64;
        let squares = |values: &[f64]| {
            let mean = mean(values);
            values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>()
        };
        let misfit = |place: usize| squares(&products[..place]) + squares(&products[place..]);
        let place =
            (1..products.len()).min_by(|&one, &other| misfit(one).total_cmp(&misfit(other)))?;
        let (before, after) = products.split_at(place);
        let scatter = misfit(place) / products.len() as f64;
        let chance = scatter * (1.0 / before.len() as f64 + 1.0 / after.len() as f64);
        // Where the products do not step, it is not this delay that came or went.
        if (mean(after) - mean(before)).powi(2) < LEAST_DEVIATIONS.powi(2) * chance {
            return None;
        }
        Some(late + place * row)
    }
}
