//! Takes the channels of a meter apart: what is in the whole band, what lies below the upper edge,
//! and what lies below the lower edge, all late by the same.

use std::ops::Range;
use std::sync::Arc;

use super::delay::Delay;
use super::low_pass::{LowPass, LowPassPlan, LowPassScratch};
use super::lower_edge::{LowerEdge, LowerEdgePlan};
use crate::batch::{BATCH_FRAMES, Batch};
use crate::laps::{Laps, Work};
use crate::settings::Edges;

/// Where the parts of a channel's batch go.
pub(crate) struct SplitBatch<'a> {
    pub(crate) whole: &'a mut Batch,
    /// Below the upper edge.
    pub(crate) low_passed: &'a mut Batch,
    /// Below the lower edge.
    pub(crate) below: &'a mut Batch,
}

/// The filters of all channels of a meter.
pub(crate) struct Splitter {
    channels: Vec<Channel>,
    /// `None` where nothing can lie above the upper edge.
    scratch: Option<LowPassScratch>,
    delay_frames: usize,
    reach_frames: usize,
    memory_frames: usize,
    empty_after_frames: usize,
}

struct Channel {
    low_pass: Option<LowPass>,
    lower_edge: LowerEdge,
    whole: Delay,
    /// `None` where the lower edge is late enough by itself.
    below: Option<Delay>,
}

impl Splitter {
    /// Two sets of filters for some channels, for signals that go side by side: all late by the same,
    /// and in turns. Allocates.
    pub(crate) fn two(rate_hz: f64, edges: Edges, channels: usize) -> [Self; 2] {
        let low_pass = LowPassPlan::new(rate_hz, edges.high_hz(), 2 * channels).map(Arc::new);
        let lower_edge = Arc::new(LowerEdgePlan::new(rate_hz, edges.low_hz()));
        [0..channels, channels..2 * channels]
            .map(|turns| Self::of_plans(low_pass.clone(), &lower_edge, turns))
    }

    /// Filters for as many channels as there are `turns`.
    fn of_plans(
        low_pass: Option<Arc<LowPassPlan>>,
        lower_edge: &Arc<LowerEdgePlan>,
        turns: Range<usize>,
    ) -> Self {
        let low_pass_late = low_pass.as_ref().map_or(0, |plan| plan.delay_frames());
        let below_late = lower_edge.delay_frames();
        let delay_frames = low_pass_late.max(below_late);
        let reach = low_pass.as_ref().map_or(0, |plan| plan.reach_frames());
        let memory = low_pass.as_ref().map_or(0, |plan| plan.memory_frames());
        Self {
            channels: turns
                .map(|turn| Channel {
                    low_pass: low_pass
                        .clone()
                        .map(|plan| LowPass::new(plan, turn, delay_frames - low_pass_late)),
                    lower_edge: LowerEdge::new(Arc::clone(lower_edge)),
                    whole: Delay::new(delay_frames / BATCH_FRAMES),
                    below: (delay_frames > below_late)
                        .then(|| Delay::new((delay_frames - below_late) / BATCH_FRAMES)),
                })
                .collect(),
            scratch: low_pass.map(|plan| plan.scratch()),
            delay_frames,
            reach_frames: reach.max(lower_edge.reach_frames()),
            memory_frames: memory.max(below_late + lower_edge.reach_frames()),
            // The low-pass keeps what it has made in a ring as long as its delay and three of its
            // memories at most; the lower edge is delayed behind what it reaches.
            empty_after_frames: delay_frames
                + (4 * memory).max(below_late + 2 * lower_edge.reach_frames()),
        }
    }

    pub(crate) fn reset(&mut self) {
        for channel in &mut self.channels {
            channel.low_pass.iter_mut().for_each(LowPass::reset);
            channel.lower_edge.reset();
            channel.whole.reset();
            channel.below.iter_mut().for_each(Delay::reset);
        }
    }

    /// Readies fresh filters for a signal whose first frame is frame `frame`, on a batch's boundary,
    /// of a longer one, so that they do what they would have done there.
    pub(crate) fn start_at(&mut self, frame: u64) {
        (0..self.channels.len()).for_each(|index| self.go_on_at(index, frame));
    }

    /// Readies the filters of the channel `index`, which hold nothing but silence, for frame `frame` of
    /// a signal, on a batch's boundary.
    pub(crate) fn go_on_at(&mut self, index: usize, frame: u64) {
        let channel = &mut self.channels[index];
        channel.low_pass.iter_mut().for_each(|filter| filter.start_at(frame));
        channel.lower_edge.start_at(frame);
    }

    /// Frames of silence after which the filters hold nothing else.
    pub(crate) fn empty_after_frames(&self) -> usize {
        self.empty_after_frames
    }

    /// Frames by which the outputs are late.
    pub(crate) fn delay_frames(&self) -> usize {
        self.delay_frames
    }

    /// Frames on either side of a frame that its outputs depend on.
    pub(crate) fn reach_frames(&self) -> usize {
        self.reach_frames
    }

    /// Frames of the input after which nothing depends on what came before.
    pub(crate) fn memory_frames(&self) -> usize {
        self.memory_frames
    }

    /// Takes a batch of the channel `index` apart.
    pub(crate) fn process(
        &mut self,
        index: usize,
        input: &Batch,
        split: SplitBatch,
        laps: &mut impl Laps,
    ) {
        let channel = &mut self.channels[index];
        channel.whole.process(input, split.whole);
        match (&mut channel.low_pass, &mut self.scratch) {
            (Some(low_pass), Some(scratch)) => {
                low_pass.process(input, split.low_passed, scratch);
            }
            _ => *split.low_passed = *split.whole,
        }
        laps.lap(Work::LowPass);
        match &mut channel.below {
            None => channel.lower_edge.process(input, split.below),
            Some(delay) => {
                let mut below = [0.0; BATCH_FRAMES];
                channel.lower_edge.process(input, &mut below);
                delay.process(&below, split.below);
            }
        }
        laps.lap(Work::LowerEdge);
    }
}
