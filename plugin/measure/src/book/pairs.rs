//! What is kept of each pair of channels of one band: overs, flat tops and true peaks.

use std::ops::Range;

use pulp::Arch;

use crate::batch::{Batch, FrameBits, PairBatch};
use crate::channel::MOST_CHANNELS;
use crate::flat_tops::{self, FlatTops};
use crate::peak::Overs;
use crate::signal::{A, B, BUS, SUM};
use crate::true_peak::{Shifts, TruePeaks};

/// Most pairs of channels that a bus has.
const MOST_PAIRS: usize = MOST_CHANNELS.div_ceil(2) + 1;

/// What is held of the peaks of every pair.
pub(super) type PairsHeld = [PairHeld; MOST_PAIRS];

/// What is held of a pair's A, B and A + B.
#[derive(Clone, Copy)]
pub(super) struct PairHeld {
    overs: [Overs; 3],
    true_peaks: [f32; 3],
    shifted: f32,
}

/// The pairs' books; those of the halves come first.
pub(super) struct PairBooks {
    halves_pairs: usize,
    /// Magnitude of full scale.
    full_scale: f32,
    /// `[pair]` of A, B and, of the halves', their sum.
    overs: Vec<[Overs; 3]>,
    /// `[pair]` of A and B; of the whole band alone.
    flat_tops: Vec<[FlatTops; 2]>,
    /// `[pair]`.
    true_peaks: Vec<TruePeaks>,
}

impl PairBooks {
    pub(super) fn new(
        pairs: usize,
        halves_pairs: usize,
        true_peaks: impl Fn() -> TruePeaks,
    ) -> Self {
        Self {
            halves_pairs,
            full_scale: flat_tops::full_scale(None),
            overs: vec![[Overs::default(); 3]; pairs],
            flat_tops: Vec::new(),
            true_peaks: (0..pairs).map(|_| true_peaks()).collect(),
        }
    }

    pub(super) fn find_flat_tops(&mut self) {
        let pairs = self.true_peaks.len();
        self.flat_tops = (0..pairs).map(|_| [FlatTops::new(None), FlatTops::new(None)]).collect();
    }

    pub(super) fn set_word_bits(&mut self, word_bits: Option<u32>) {
        self.full_scale = flat_tops::full_scale(word_bits);
        for tops in self.flat_tops.iter_mut().flatten() {
            *tops = FlatTops::new(word_bits);
        }
    }

    pub(super) fn start_at(&mut self, frame: u64) {
        self.flat_tops.iter_mut().flatten().for_each(|tops| tops.start_at(frame));
    }

    pub(super) fn cut(&mut self) {
        self.flat_tops.iter_mut().flatten().for_each(FlatTops::cut);
    }

    pub(super) fn reset(&mut self) {
        self.overs.fill([Overs::default(); 3]);
        self.flat_tops.iter_mut().flatten().for_each(FlatTops::reset);
        self.let_true_peaks_go();
    }

    /// Has its true peaks, what they hold included, go on from where those of `other` stand.
    pub(super) fn follow(&mut self, other: &Self) {
        for (detectors, other) in self.true_peaks.iter_mut().zip(&other.true_peaks) {
            detectors.follow(other);
        }
    }

    pub(super) fn begin(&mut self) {
        self.overs.iter_mut().flatten().for_each(|overs| overs.count = 0);
        self.flat_tops.iter_mut().flatten().for_each(FlatTops::let_go);
    }

    pub(super) fn let_true_peaks_go(&mut self) {
        self.true_peaks.iter_mut().for_each(TruePeaks::let_go);
    }

    pub(super) fn append(&mut self, mut later: Self) {
        for (overs, later) in self.overs.iter_mut().flatten().zip(later.overs.iter().flatten()) {
            overs.append(*later);
        }
        let later_tops = later.flat_tops.into_iter().flatten();
        for (tops, later) in self.flat_tops.iter_mut().flatten().zip(later_tops) {
            tops.append(later);
        }
        for (later, earlier) in later.true_peaks.iter_mut().zip(&self.true_peaks) {
            later.raise(earlier.held());
            later.raise_shifted(earlier.shifted_held());
        }
        self.true_peaks = later.true_peaks;
    }

    pub(super) fn held(&self) -> PairsHeld {
        std::array::from_fn(|pair| PairHeld {
            overs: self.overs.get(pair).copied().unwrap_or_default(),
            true_peaks: self.true_peaks.get(pair).map_or([0.0; 3], TruePeaks::held),
            shifted: self.true_peaks.get(pair).map_or(0.0, TruePeaks::shifted_held),
        })
    }

    pub(super) fn return_to(&mut self, pairs: PairsHeld) {
        self.let_true_peaks_go();
        let own = self.true_peaks.iter_mut().zip(&mut self.overs);
        for ((detectors, overs), held) in own.zip(pairs) {
            detectors.raise(held.true_peaks);
            detectors.raise_shifted(held.shifted);
            *overs = held.overs;
        }
    }

    /// Takes the frames `range` of a pair's batch, whose largest magnitudes are known, and says at
    /// which of them overs of its channels begin.
    pub(super) fn take(
        &mut self,
        index: usize,
        pair: &PairBatch,
        range: &Range<usize>,
        largest: [f32; 3],
    ) -> FrameBits {
        let (a, b) = (&pair.a[range.clone()], &pair.b[range.clone()]);
        if index < self.halves_pairs {
            let overs = &mut self.overs[index][SUM];
            if largest[SUM] < self.full_scale {
                overs.take_none();
            } else {
                overs.take(&pair.sum()[range.clone()], self.full_scale);
            }
        }
        let begun = self.count_overs(index, [a, b], largest);
        if let Some(tops) = self.flat_tops.get_mut(index) {
            tops[A].take(a, largest[A]);
            tops[B].take(b, largest[B]);
        }
        begun
    }

    fn count_overs(&mut self, index: usize, channels: [&[f32]; 2], largest: [f32; 3]) -> FrameBits {
        let mut begun = 0;
        for half in [A, B] {
            let overs = &mut self.overs[index][half];
            if largest[half] < self.full_scale {
                overs.take_none();
            } else {
                begun |= overs.take(channels[half], self.full_scale);
            }
        }
        begun
    }

    /// Takes a batch for the true peaks, and for those with `sign` times what lies `below` added.
    pub(super) fn take_true_peaks(
        &mut self,
        arch: Arch,
        pairs: &[PairBatch],
        below: &Shifts,
        sign: f32,
        has_b: impl Iterator<Item = bool>,
    ) {
        self.each_true_peaks(pairs, has_b, |index, detectors, batches| {
            detectors.take(arch, batches, Some(below.of(index, sign)));
        });
    }

    pub(super) fn pass(&mut self, pairs: &[PairBatch], has_b: impl Iterator<Item = bool>) {
        self.each_true_peaks(pairs, has_b, |_, detectors, batches| detectors.pass(batches));
        self.overs.iter_mut().flatten().for_each(Overs::take_none);
        self.cut();
    }

    fn each_true_peaks(
        &mut self,
        pairs: &[PairBatch],
        has_b: impl Iterator<Item = bool>,
        take: impl Fn(usize, &mut TruePeaks, &[&Batch]),
    ) {
        let detectors = self.true_peaks.iter_mut().enumerate();
        for (((index, detectors), pair), has_b) in detectors.zip(pairs).zip(has_b) {
            match (has_b, index < self.halves_pairs) {
                (true, true) => take(index, detectors, &[&pair.a, &pair.b, &pair.sum()]),
                (true, false) => take(index, detectors, &[&pair.a, &pair.b]),
                (false, _) => take(index, detectors, &[&pair.a]),
            }
        }
    }

    /// The highest of all channels with what lies below added or taken away, linear.
    pub(super) fn shifted_true_peak(&self) -> f32 {
        self.true_peaks.iter().map(TruePeaks::shifted_held).fold(0.0, f32::max)
    }

    pub(super) fn overs(&self, signal: usize) -> u64 {
        let (halves, _) = self.overs.split_at(self.halves_pairs);
        let of = |pairs: &[[Overs; 3]], signal: usize| -> u64 {
            pairs.iter().map(|pair| pair[signal].count).sum()
        };
        match signal {
            BUS => of(&self.overs, A) + of(&self.overs, B),
            _ => of(halves, signal),
        }
    }

    /// Flat tops below the highest sample of the bus, those at full scale left out.
    pub(super) fn flat_tops(&self, highest: f32) -> u64 {
        let tops = self.flat_tops.iter().flatten();
        tops.map(|tops| tops.count(highest, self.full_scale)).sum()
    }

    pub(super) fn flat_top_before(&self, end: u64, highest: f32) -> Option<u64> {
        let tops = self.flat_tops.iter().flatten();
        let moments = tops.flat_map(|tops| tops.moments(highest, self.full_scale));
        moments.filter(|&frame| frame < end).max()
    }

    /// The highest true peak of all channels in the stretch that ends here, linear.
    pub(super) fn take_stretch(&mut self) -> f32 {
        self.true_peaks.iter_mut().map(TruePeaks::take_stretch).fold(0.0, f32::max)
    }

    pub(super) fn true_peak(&self, signal: usize) -> f32 {
        let (halves, others) = self.true_peaks.split_at(self.halves_pairs);
        let over = |pairs: &[TruePeaks], signal: usize| {
            pairs.iter().map(|pair| pair.held()[signal]).fold(0.0, f32::max)
        };
        match signal {
            BUS => [over(halves, A), over(halves, B), over(others, A), over(others, B)]
                .into_iter()
                .fold(0.0, f32::max),
            _ => over(halves, signal),
        }
    }
}
