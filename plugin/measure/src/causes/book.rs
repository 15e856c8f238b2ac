//! The peaks that prices are worked out from: those of both bands, and those after one filter alone.

use pulp::Arch;

use super::MOST_CAUSES;
use crate::batch::{Batch, PairBatch};
use crate::level::Level;
use crate::settings::TruePeakFilter;
use crate::signal::{A, B};
use crate::true_peak::TruePeaks;

/// What is taken away counts for nothing below this share of the peak held: 0.003 dB.
const NEGLIGIBLE: f32 = 3e-4;

/// The highest peaks of the bus, linear, in the order of the account: largest sample, true peak, true
/// peak after the low-pass, true peak of the audible band.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Peaks(pub(crate) [f32; MOST_CAUSES + 1]);

impl Peaks {
    /// The higher of both, peak by peak.
    pub(crate) fn or(self, other: Self) -> Self {
        Self(std::array::from_fn(|i| self.0[i].max(other.0[i])))
    }

    /// The same as levels.
    pub(crate) fn levels(&self) -> [Level; MOST_CAUSES + 1] {
        self.0.map(|peak| Level::from_amplitude(f64::from(peak)))
    }

    /// Each peak over the next: the prices, linear; none in silence.
    pub(super) fn ratios(&self) -> [Option<f32>; MOST_CAUSES] {
        std::array::from_fn(|i| {
            let (peak, next) = (self.0[i], self.0[i + 1]);
            (peak > 0.0 && next > 0.0).then(|| peak / next)
        })
    }
}

/// True peaks of the bus after one of the two filters alone.
pub(crate) struct CauseBook {
    arch: Arch,
    low_passed: Follower,
    /// The whole band less what lies below.
    raised: Follower,
}

/// What is held, as it was.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PeaksBefore {
    low_passed: f32,
    raised: f32,
}

impl CauseBook {
    /// A book for `pairs` pairs of channels; what the low-pass leaves ends at `low_passed_end_hz`.
    pub(crate) fn new(
        filter: TruePeakFilter,
        rate_hz: f64,
        pairs: usize,
        low_passed_end_hz: f64,
    ) -> Self {
        let follower = |highest_hz: f64| Follower {
            pairs: (0..pairs)
                .map(|_| PairFollower {
                    detectors: TruePeaks::new(filter, rate_hz, highest_hz),
                    whole_before: 0.0,
                    quiet: false,
                })
                .collect(),
            held: 0.0,
        };
        Self {
            arch: Arch::new(),
            low_passed: follower(low_passed_end_hz),
            raised: follower(rate_hz / 2.0),
        }
    }

    /// Clears what was measured; the waveforms run on.
    pub(crate) fn reset(&mut self) {
        self.low_passed.let_go();
        self.raised.let_go();
    }

    /// True peak after the low-pass alone, linear.
    pub(crate) fn low_passed(&self) -> f32 {
        self.low_passed.held
    }

    /// True peak after the high-pass alone, linear.
    pub(crate) fn raised(&self) -> f32 {
        self.raised.held
    }

    /// What is held.
    pub(crate) fn held(&self) -> PeaksBefore {
        PeaksBefore { low_passed: self.low_passed.held, raised: self.raised.held }
    }

    /// Goes back to what was held.
    pub(crate) fn return_to(&mut self, before: PeaksBefore) {
        self.low_passed.start_from(before.low_passed);
        self.raised.start_from(before.raised);
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(crate) fn append(&mut self, later: Self) {
        let before = self.held();
        *self = later;
        self.low_passed.start_from(self.low_passed.held.max(before.low_passed));
        self.raised.start_from(self.raised.held.max(before.raised));
    }

    /// Takes a batch of every pair; `whole_held` says the whole band's true peak of a pair's channels,
    /// this batch included.
    pub(crate) fn take(&mut self, batches: &Batches, whole_held: impl Fn(usize) -> f32) {
        self.low_passed.take(self.arch, batches, &whole_held, low_passed);
        self.raised.take(self.arch, batches, &whole_held, raised);
    }

    /// Takes a batch that is not to be read.
    pub(crate) fn pass(&mut self, batches: &Batches) {
        self.low_passed.pass(batches, low_passed);
        self.raised.pass(batches, raised);
    }
}

/// A batch of every pair, as it leaves the filters.
pub(crate) struct Batches<'a> {
    pub(crate) whole: &'a [PairBatch],
    pub(crate) low_passed: &'a [PairBatch],
    pub(crate) below: &'a [PairBatch],
    /// Whether each pair has a second channel.
    pub(crate) has_b: &'a [bool],
}

/// A channel less what lies above the upper edge.
fn low_passed(batches: &Batches, pair: usize, half: usize) -> Batch {
    *half_of(&batches.low_passed[pair], half)
}

/// A channel less what lies below the lower edge.
fn raised(batches: &Batches, pair: usize, half: usize) -> Batch {
    let whole = half_of(&batches.whole[pair], half);
    let below = half_of(&batches.below[pair], half);
    std::array::from_fn(|i| whole[i] - below[i])
}

fn half_of(pair: &PairBatch, half: usize) -> &Batch {
    if half == A { &pair.a } else { &pair.b }
}

/// How a channel of a pair comes out of a filter.
type Filtered = fn(&Batches, usize, usize) -> Batch;

/// Finds the true peak of the bus after a filter, at next to no cost while the filter takes nothing
/// away.
struct Follower {
    pairs: Vec<PairFollower>,
    /// The highest of all channels, linear.
    held: f32,
}

struct PairFollower {
    /// Of A and B.
    detectors: TruePeaks,
    /// True peak of the pair in the whole band before the batch that comes next, linear.
    whole_before: f32,
    /// Whether the filter took nothing away in the batch before.
    quiet: bool,
}

impl Follower {
    fn let_go(&mut self) {
        self.held = 0.0;
        for pair in &mut self.pairs {
            pair.detectors.let_go();
            pair.whole_before = 0.0;
        }
    }

    /// Holds what was found elsewhere. What the whole band held there is not known, so the next batch
    /// is looked at.
    fn start_from(&mut self, held: f32) {
        self.let_go();
        self.held = held;
        for pair in &mut self.pairs {
            pair.whole_before = f32::INFINITY;
        }
    }

    fn take(
        &mut self,
        arch: Arch,
        batches: &Batches,
        whole_held: impl Fn(usize) -> f32,
        filtered: Filtered,
    ) {
        for (index, pair) in self.pairs.iter_mut().enumerate() {
            let whole_held = whole_held(index);
            let channels = [A, B].map(|half| filtered(batches, index, half));
            let signals = channels.each_ref();
            let signals = &signals[..if batches.has_b[index] { 2 } else { 1 }];
            let taken_away = largest_difference(&batches.whole[index].a, &channels[A])
                .max(largest_difference(&batches.whole[index].b, &channels[B]));
            let was_quiet =
                std::mem::replace(&mut pair.quiet, taken_away <= NEGLIGIBLE * whole_held);
            // What is left is then the whole band, of which the peak is known; and no peak of it can
            // have been missed while something was taken away.
            let nothing_missed = self.held >= pair.whole_before * (1.0 - NEGLIGIBLE);
            if was_quiet && pair.quiet && nothing_missed {
                pair.detectors.follow(arch, signals);
                self.held = self.held.max(whole_held);
            } else {
                // One peak of the bus: no channel has to look for less.
                pair.detectors.raise([self.held; 3]);
                pair.detectors.take(arch, signals);
                let held = pair.detectors.held();
                self.held = self.held.max(held[A]).max(held[B]);
            }
            pair.whole_before = whole_held;
        }
    }

    fn pass(&mut self, batches: &Batches, filtered: Filtered) {
        for (index, pair) in self.pairs.iter_mut().enumerate() {
            let channels = [A, B].map(|half| filtered(batches, index, half));
            let signals = channels.each_ref();
            pair.detectors.pass(&signals[..if batches.has_b[index] { 2 } else { 1 }]);
            pair.quiet = false;
        }
    }
}

/// The largest magnitude of what lies between two batches.
fn largest_difference(one: &Batch, other: &Batch) -> f32 {
    const LANES: usize = 8;
    let mut largest = [0f32; LANES];
    for (one, other) in one.as_chunks::<LANES>().0.iter().zip(other.as_chunks::<LANES>().0) {
        for i in 0..LANES {
            largest[i] = largest[i].max((one[i] - other[i]).abs());
        }
    }
    largest.into_iter().fold(0.0, f32::max)
}
