//! The audible band of one channel, for listening: the low-pass at the upper edge, and an ordinary
//! fourth-order high-pass at the lower one, which is not late but turns phases in the lowest octaves.

use std::sync::Arc;

use super::delay::Delay;
use super::low_pass::{LowPass, LowPassPlan, LowPassScratch};
use crate::batch::{BATCH_FRAMES, Batch, PairBatch};
use crate::biquad::{Lanes, butterworth4};
use crate::sample::sample_or_silence;
use crate::settings::Edges;

/// Frames of the longest transform, so that what is listened to is not late by more than twice as many.
const LONGEST_TRANSFORM: usize = 4096;

/// Splits one channel of a stream into what is audible and what lies above the upper edge, for
/// listening.
///
/// Construction allocates; [`process`](Self::process) and [`reset`](Self::reset) do not.
pub struct BandFilter {
    low_pass: Option<(LowPass, LowPassScratch)>,
    high_pass: [Lanes; 2],
    delay: Delay,
    delay_frames: usize,
    /// In the first channel; there is no second.
    input: PairBatch,
    delayed: Batch,
    low: PairBatch,
    position: usize,
}

impl BandFilter {
    /// A filter for a stream at `rate_hz`. An upper edge above half the rate leaves everything
    /// below it.
    #[must_use]
    pub fn new(rate_hz: f64, edges: Edges) -> Self {
        Self::for_channel(rate_hz, edges, 0, 1)
    }

    /// The filter of channel `index` of `channels`, all late by the same. They do their heavy work
    /// in turn, so that no block of a host bears it for all.
    #[must_use]
    pub fn for_channel(rate_hz: f64, edges: Edges, index: usize, channels: usize) -> Self {
        let plan = LowPassPlan::new(rate_hz, edges.high_hz(), channels, LONGEST_TRANSFORM);
        let plan = plan.map(Arc::new);
        let delay_frames = plan.as_ref().map_or(0, |plan| plan.delay_frames());
        Self {
            low_pass: plan.map(|plan| {
                let scratch = plan.scratch();
                (LowPass::new(plan, index, 0), scratch)
            }),
            high_pass: butterworth4(rate_hz, edges.low_hz()).map(|(high, _)| Lanes::new([high; 4])),
            delay: Delay::new(delay_frames / BATCH_FRAMES),
            delay_frames: delay_frames + BATCH_FRAMES,
            input: PairBatch::SILENCE,
            delayed: [0.0; BATCH_FRAMES],
            low: PairBatch::SILENCE,
            position: 0,
        }
    }

    /// Frames by which both outputs are late.
    #[must_use]
    pub fn delay_frames(&self) -> usize {
        self.delay_frames
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        if let Some((low_pass, _)) = &mut self.low_pass {
            low_pass.reset();
        }
        self.high_pass.iter_mut().for_each(Lanes::reset);
        self.delay.reset();
        self.input = PairBatch::SILENCE;
        self.delayed = [0.0; BATCH_FRAMES];
        self.low = PairBatch::SILENCE;
        self.position = 0;
    }

    /// Filters as many samples as the shortest of the three slices holds. Samples that are no
    /// number count as zero.
    pub fn process(&mut self, input: &[f32], audible: &mut [f32], above: &mut [f32]) {
        for ((&input, audible), above) in input.iter().zip(audible).zip(above) {
            let low = self.low.a[self.position];
            *above = self.delayed[self.position] - low;
            let filtered =
                self.high_pass.iter_mut().fold([f64::from(low); 4], |x, stage| stage.process(x));
            *audible = filtered[0] as f32;
            self.input.a[self.position] = sample_or_silence(input);
            self.position += 1;
            if self.position == BATCH_FRAMES {
                self.position = 0;
                self.advance();
            }
        }
    }

    fn advance(&mut self) {
        self.delay.process(&self.input.a, &mut self.delayed);
        match &mut self.low_pass {
            Some((low_pass, scratch)) => low_pass.process(&self.input, &mut self.low, scratch),
            None => self.low.a = self.delayed,
        }
        self.high_pass.iter_mut().for_each(Lanes::settle);
    }
}
