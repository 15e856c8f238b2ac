//! Takes the channels of a meter apart: what is in the whole band, what lies below the upper edge,
//! and what lies below the lower edge, all late by the same.

use std::sync::Arc;

use super::delay::Delay;
use super::low_pass::{LowPass, LowPassPlan, LowPassScratch};
use super::lower_edge::{LowerEdge, LowerEdgePlan};
use crate::batch::{BATCH_FRAMES, Batch};
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
}

struct Channel {
    low_pass: Option<LowPass>,
    lower_edge: LowerEdge,
    whole: Delay,
    /// `None` where the lower edge is late enough by itself.
    below: Option<Delay>,
}

impl Splitter {
    /// Filters for some channels. Allocates.
    pub(crate) fn new(rate_hz: f64, edges: Edges, channels: usize) -> Self {
        let low_pass = LowPassPlan::new(rate_hz, edges.high_hz(), channels).map(Arc::new);
        let lower_edge = Arc::new(LowerEdgePlan::new(rate_hz, edges.low_hz()));
        let low_pass_late = low_pass.as_ref().map_or(0, |plan| plan.delay_frames());
        let below_late = lower_edge.delay_frames();
        let delay_frames = low_pass_late.max(below_late);
        let reach = low_pass.as_ref().map_or(0, |plan| plan.reach_frames());
        let memory = low_pass.as_ref().map_or(0, |plan| plan.memory_frames());
        Self {
            channels: (0..channels)
                .map(|index| Channel {
                    low_pass: low_pass
                        .clone()
                        .map(|plan| LowPass::new(plan, index, delay_frames - low_pass_late)),
                    lower_edge: LowerEdge::new(Arc::clone(&lower_edge)),
                    whole: Delay::new(delay_frames / BATCH_FRAMES),
                    below: (delay_frames > below_late)
                        .then(|| Delay::new((delay_frames - below_late) / BATCH_FRAMES)),
                })
                .collect(),
            scratch: low_pass.map(|plan| plan.scratch()),
            delay_frames,
            reach_frames: reach.max(lower_edge.reach_frames()),
            memory_frames: memory.max(below_late + lower_edge.reach_frames()),
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
        for channel in &mut self.channels {
            channel.low_pass.iter_mut().for_each(|filter| filter.start_at(frame));
            channel.lower_edge.start_at(frame);
        }
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
    pub(crate) fn process(&mut self, index: usize, input: &Batch, split: SplitBatch) {
        let channel = &mut self.channels[index];
        channel.whole.process(input, split.whole);
        match (&mut channel.low_pass, &mut self.scratch) {
            (Some(low_pass), Some(scratch)) => {
                low_pass.process(input, split.low_passed, scratch);
            }
            _ => *split.low_passed = *split.whole,
        }
        match &mut channel.below {
            None => channel.lower_edge.process(input, split.below),
            Some(delay) => {
                let mut below = [0.0; BATCH_FRAMES];
                channel.lower_edge.process(input, &mut below);
                delay.process(&below, split.below);
            }
        }
    }
}
