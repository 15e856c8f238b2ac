//! K-weighted energies of the bus's signals, from all its pairs of channels.

use std::ops::Range;

use super::filters::Left;
use super::layout::{Layout, Pair};
use crate::batch::BATCH_FRAMES;
use crate::signal::SIGNALS;
use crate::weighting::{WeightedEnergies, Weighting, WeightingInput};

/// The weightings of a bus, `[pair]`.
pub(super) struct Weighted {
    weightings: Vec<Weighting>,
    pairs: Vec<Pair>,
    halves_pairs: usize,
}

/// Energies of the channels that belong to the bus alone, each by its weight.
#[derive(Default)]
struct OtherEnergies {
    audible: f64,
    whole: f64,
}

impl Weighted {
    pub(super) fn new(rate_hz: f64, layout: &Layout) -> Self {
        Self {
            weightings: layout.pairs.iter().map(|_| Weighting::new(rate_hz)).collect(),
            pairs: layout.pairs.clone(),
            halves_pairs: layout.halves_pairs,
        }
    }

    /// Forgets what looks back.
    pub(super) fn reset(&mut self) {
        self.weightings.iter_mut().for_each(Weighting::reset);
    }

    /// Goes on from where `other`, of the same bus, stands.
    pub(super) fn follow(&mut self, other: &Self) {
        self.weightings.clone_from_slice(&other.weightings);
    }

    /// Drops what has decayed below any meaning.
    pub(super) fn settle(&mut self) {
        self.weightings.iter_mut().for_each(Weighting::settle);
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(super) fn append(&mut self, later: Self) {
        self.weightings = later.weightings;
    }

    /// Lets a batch run through, without reading it.
    pub(super) fn pass(&mut self, left: &Left) {
        for (pair, weighting) in self.weightings.iter_mut().enumerate() {
            weighting.process(&input(left, pair, 0..BATCH_FRAMES));
            weighting.settle();
        }
    }

    /// Energies of the frames `range` of a batch, by signal: whole band, audible band.
    pub(super) fn take(&mut self, left: &Left, range: Range<usize>) -> [[f64; SIGNALS]; 2] {
        let mut weighted = WeightedEnergies::default();
        let mut others = OtherEnergies::default();
        for (pair, weighting) in self.weightings.iter_mut().enumerate() {
            let energies = weighting.process(&input(left, pair, range.clone()));
            if pair < self.halves_pairs {
                weighted += energies;
            } else {
                others.add(&energies, &self.pairs[pair]);
            }
        }
        let [audible_a, audible_b, whole_a, whole_b] = weighted.k;
        let [audible_sum, whole_sum] = weighted.k_sum;
        let [weight_a, weight_b] = self.pairs[0].weights;
        let whole_bus = weight_a * whole_a + weight_b * whole_b + others.whole;
        let audible_bus = weight_a * audible_a + weight_b * audible_b + others.audible;
        [[whole_a, whole_b, whole_sum, whole_bus], [audible_a, audible_b, audible_sum, audible_bus]]
    }
}

impl OtherEnergies {
    fn add(&mut self, energies: &WeightedEnergies, pair: &Pair) {
        let [audible_a, audible_b, whole_a, whole_b] = energies.k;
        let [weight_a, weight_b] = pair.weights;
        self.audible += weight_a * audible_a + weight_b * audible_b;
        self.whole += weight_a * whole_a + weight_b * whole_b;
    }
}

/// A stretch of a pair of channels in both bands.
fn input(left: &Left, pair: usize, range: Range<usize>) -> WeightingInput<'_> {
    let (audible, whole) = (&left.audible[pair], &left.whole[pair]);
    WeightingInput {
        audible_a: &audible.a[range.clone()],
        audible_b: &audible.b[range.clone()],
        whole_a: &whole.a[range.clone()],
        whole_b: &whole.b[range],
    }
}
