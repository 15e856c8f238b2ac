//! Takes the pairs of channels of a meter apart: what is in the whole band, what lies below the upper edge,
//! and what lies below the lower edge, all late by the same.

use std::ops::Range;
use std::sync::Arc;

use super::delay::Delay;
use super::low_pass::{LowPass, LowPassPlan, LowPassScratch};
use super::lower_edge::{LowerEdge, LowerEdgePlan};
use crate::batch::{BATCH_FRAMES, Batch, PairBatch};
use crate::laps::{Laps, Work};
use crate::settings::Edges;

/// Frames of the longest transform: some 12 µs of work on a processor of today. A longer one would pay
/// only from 192 kHz on.
const LONGEST_TRANSFORM: usize = 8192;

/// Where the parts of a pair's batch go.
pub(crate) struct SplitBatch<'a> {
    pub(crate) whole: &'a mut PairBatch,
    /// Below the upper edge.
    pub(crate) low_passed: &'a mut PairBatch,
    /// Below the lower edge.
    pub(crate) below: &'a mut PairBatch,
}

/// The filters of all pairs of a meter.
pub(crate) struct Splitter {
    pairs: Vec<Pair>,
    /// `None` where nothing can lie above the upper edge.
    scratch: Option<LowPassScratch>,
    delay_frames: usize,
    reach_frames: usize,
    memory_frames: usize,
    empty_after_frames: usize,
}

struct Pair {
    low_pass: Option<LowPass>,
    a: Channel,
    /// `None` where there is a first channel alone.
    b: Option<Channel>,
}

struct Channel {
    lower_edge: LowerEdge,
    whole: Delay,
    /// `None` where the lower edge is late enough by itself.
    below: Option<Delay>,
}

impl Splitter {
    /// Two sets of filters for some pairs, of which is said whether they have a second channel, for
    /// signals that go side by side: all late by the same, and in turns. Allocates.
    pub(crate) fn two(rate_hz: f64, edges: Edges, second_channels: &[bool]) -> [Self; 2] {
        let pairs = second_channels.len();
        let low_pass = LowPassPlan::new(rate_hz, edges.high_hz(), 2 * pairs, LONGEST_TRANSFORM);
        let low_pass = low_pass.map(Arc::new);
        let lower_edge = Arc::new(LowerEdgePlan::new(rate_hz, edges.low_hz()));
        [0..pairs, pairs..2 * pairs]
            .map(|turns| Self::of_plans(low_pass.clone(), &lower_edge, turns, second_channels))
    }

    /// Filters for as many pairs as there are `turns`.
    fn of_plans(
        low_pass: Option<Arc<LowPassPlan>>,
        lower_edge: &Arc<LowerEdgePlan>,
        turns: Range<usize>,
        second_channels: &[bool],
    ) -> Self {
        let low_pass_late = low_pass.as_ref().map_or(0, |plan| plan.delay_frames());
        let below_late = lower_edge.delay_frames();
        let delay_frames = low_pass_late.max(below_late);
        let reach = low_pass.as_ref().map_or(0, |plan| plan.reach_frames());
        let memory = low_pass.as_ref().map_or(0, |plan| plan.memory_frames());
        let channel = || Channel {
            lower_edge: LowerEdge::new(Arc::clone(lower_edge)),
            whole: Delay::new(delay_frames / BATCH_FRAMES),
            below: (delay_frames > below_late)
                .then(|| Delay::new((delay_frames - below_late) / BATCH_FRAMES)),
        };
        Self {
            pairs: turns
                .zip(second_channels)
                .map(|(turn, has_b)| Pair {
                    low_pass: low_pass
                        .clone()
                        .map(|plan| LowPass::new(plan, turn, delay_frames - low_pass_late)),
                    a: channel(),
                    b: has_b.then(channel),
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
        for pair in &mut self.pairs {
            pair.low_pass.iter_mut().for_each(LowPass::reset);
            pair.channels().for_each(Channel::reset);
        }
    }

    /// Readies fresh filters for a signal whose first frame is frame `frame`, on a batch's boundary,
    /// of a longer one, so that they do what they would have done there.
    pub(crate) fn start_at(&mut self, frame: u64) {
        (0..self.pairs.len()).for_each(|index| self.go_on_at(index, frame));
    }

    /// Readies the filters of the pair `index`, which hold nothing but silence, for frame `frame` of a
    /// signal, on a batch's boundary.
    pub(crate) fn go_on_at(&mut self, index: usize, frame: u64) {
        let pair = &mut self.pairs[index];
        pair.low_pass.iter_mut().for_each(|filter| filter.start_at(frame));
        pair.channels().for_each(|channel| channel.lower_edge.start_at(frame));
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

    /// Takes a batch of the pair `index` apart.
    pub(crate) fn process(
        &mut self,
        index: usize,
        input: &PairBatch,
        split: SplitBatch,
        laps: &mut impl Laps,
    ) {
        let Pair { low_pass, a, b } = &mut self.pairs[index];
        a.whole.process(&input.a, &mut split.whole.a);
        b.iter_mut().for_each(|b| b.whole.process(&input.b, &mut split.whole.b));
        match (low_pass, &mut self.scratch) {
            (Some(low_pass), Some(scratch)) => low_pass.process(input, split.low_passed, scratch),
            _ => *split.low_passed = *split.whole,
        }
        laps.lap(Work::LowPass);
        a.find_below(&input.a, &mut split.below.a);
        b.iter_mut().for_each(|b| b.find_below(&input.b, &mut split.below.b));
        laps.lap(Work::LowerEdge);
    }
}

impl Pair {
    fn channels(&mut self) -> impl Iterator<Item = &mut Channel> {
        std::iter::once(&mut self.a).chain(&mut self.b)
    }
}

impl Channel {
    fn reset(&mut self) {
        self.lower_edge.reset();
        self.whole.reset();
        self.below.iter_mut().for_each(Delay::reset);
    }

    fn find_below(&mut self, input: &Batch, output: &mut Batch) {
        match &mut self.below {
            None => self.lower_edge.process(input, output),
            Some(delay) => {
                let mut below = [0.0; BATCH_FRAMES];
                self.lower_edge.process(input, &mut below);
                delay.process(&below, output);
            }
        }
    }
}
