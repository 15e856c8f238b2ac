//! The book of one band: peaks, overs, flat tops, energies, true peaks and limiter drive of A, B, sum and bus.

mod ring;

use std::ops::{AddAssign, Range};

use pulp::Arch;

use crate::batch::{BATCH_FRAMES, Batch};
use crate::channel::MOST_CHANNELS;
use crate::energy::{PairEnergies, pair_energies};
use crate::flat_tops::{self, FlatTops};
use crate::level::Level;
use crate::limiter::LimiterDrive;
use crate::peak::{Overs, largest, raise_to_magnitudes};
use crate::true_peak::TruePeaks;
use ring::Ring;

/// The signals of a bus, in the order of every array that has one entry a signal.
pub(crate) const A: usize = 0;
pub(crate) const B: usize = 1;
pub(crate) const SUM: usize = 2;
pub(crate) const BUS: usize = 3;
/// How many signals a bus has.
pub(crate) const SIGNALS: usize = 4;

/// Hops of 10 ms in the longest RMS window, 3 s.
const ENERGY_HOPS: usize = 300;
/// Hops in the longest peak window, 10 s.
const PEAK_HOPS: usize = 1000;

/// Most pairs of channels that a bus has.
const MOST_PAIRS: usize = MOST_CHANNELS.div_ceil(2) + 1;

/// One batch of a pair of channels, one of each half.
#[derive(Clone, Copy)]
pub(crate) struct PairBatch {
    pub(crate) a: Batch,
    pub(crate) b: Batch,
}

impl PairBatch {
    pub(crate) const SILENCE: Self = Self { a: [0.0; BATCH_FRAMES], b: [0.0; BATCH_FRAMES] };
}

/// Energies of a bus, summed over frames.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct BusEnergies {
    /// The halves', channel by channel.
    pub(crate) halves: PairEnergies,
    /// Of the channels that belong to the bus alone.
    pub(crate) others: f64,
}

impl BusEnergies {
    /// All channels together.
    pub(crate) fn bus(&self) -> f64 {
        self.halves.aa + self.halves.bb + self.others
    }
}

impl AddAssign for BusEnergies {
    fn add_assign(&mut self, other: Self) {
        self.halves += other.halves;
        self.others += other.others;
    }
}

/// Energies of one hop and the frames it had.
#[derive(Debug, Clone, Copy, Default)]
struct HopEnergies {
    energies: BusEnergies,
    frames: u64,
}

/// What one hop brings.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct BandHop {
    energies: HopEnergies,
    peaks: [f32; SIGNALS],
}

/// All that is held of the peaks of one band.
#[derive(Clone, Copy)]
pub(crate) struct PeaksHeld {
    held: [f32; SIGNALS],
    pairs: [PairPeaks; MOST_PAIRS],
    limiter: LimiterDrive,
}

/// What is held of a pair's A, B and A + B.
#[derive(Clone, Copy)]
struct PairPeaks {
    overs: [Overs; 3],
    true_peaks: [f32; 3],
}

pub(crate) struct BandBook {
    arch: Arch,
    /// How many of the pairs are the halves'; they come first.
    halves_pairs: usize,
    total: BusEnergies,
    hop: BandHop,
    hops: Ring<HopEnergies>,
    held: [f32; SIGNALS],
    peaks: Ring<[f32; SIGNALS]>,
    /// Magnitude of full scale.
    full_scale: f32,
    /// `[pair]` of A, B and, of the halves', their sum.
    overs: Vec<[Overs; 3]>,
    /// `[pair]` of A and B; of the whole band alone.
    flat_tops: Vec<[FlatTops; 2]>,
    /// `[pair]`.
    true_peaks: Vec<TruePeaks>,
    pub(crate) limiter: LimiterDrive,
}

impl BandBook {
    pub(crate) fn new(
        pairs: usize,
        halves_pairs: usize,
        limiter: LimiterDrive,
        true_peaks: impl Fn() -> TruePeaks,
    ) -> Self {
        Self {
            arch: Arch::new(),
            halves_pairs,
            total: BusEnergies::default(),
            hop: BandHop::default(),
            hops: Ring::new(ENERGY_HOPS),
            held: [0.0; SIGNALS],
            peaks: Ring::new(PEAK_HOPS),
            full_scale: flat_tops::full_scale(None),
            overs: vec![[Overs::default(); 3]; pairs],
            flat_tops: Vec::new(),
            true_peaks: (0..pairs).map(|_| true_peaks()).collect(),
            limiter,
        }
    }

    /// Looks for flat tops from here on.
    pub(crate) fn find_flat_tops(&mut self) {
        let pairs = self.true_peaks.len();
        self.flat_tops = (0..pairs).map(|_| [FlatTops::new(None), FlatTops::new(None)]).collect();
    }

    /// Says how many bits the samples' words have.
    pub(crate) fn set_word_bits(&mut self, word_bits: Option<u32>) {
        self.full_scale = flat_tops::full_scale(word_bits);
        for tops in self.flat_tops.iter_mut().flatten() {
            *tops = FlatTops::new(word_bits);
        }
    }

    /// Readies a fresh book for a signal whose first frame is frame `frame` of a longer one.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.flat_tops.iter_mut().flatten().for_each(|tops| tops.start_at(frame));
    }

    /// What comes does not continue what came.
    pub(crate) fn cut(&mut self) {
        self.flat_tops.iter_mut().flatten().for_each(FlatTops::cut);
    }

    /// Clears what was measured; the waveforms run on.
    pub(crate) fn reset(&mut self) {
        self.total = BusEnergies::default();
        self.hop = BandHop::default();
        self.hops.clear();
        self.held = [0.0; SIGNALS];
        self.peaks.clear();
        self.overs.fill([Overs::default(); 3]);
        self.flat_tops.iter_mut().flatten().for_each(FlatTops::reset);
        self.let_true_peaks_go();
        self.limiter.reset();
    }

    /// Counts from here on, as a part of a longer signal that a hop has just ended in: what runs
    /// goes on running. True peaks are let go for themselves.
    pub(crate) fn begin(&mut self) {
        self.total = BusEnergies::default();
        self.held = [0.0; SIGNALS];
        self.overs.iter_mut().flatten().for_each(|overs| overs.count = 0);
        self.flat_tops.iter_mut().flatten().for_each(FlatTops::let_go);
        self.limiter.let_go();
    }

    /// Lets go of the true peaks held so far.
    pub(crate) fn let_true_peaks_go(&mut self) {
        self.true_peaks.iter_mut().for_each(TruePeaks::let_go);
    }

    /// Goes on where `later` stands, which began where this ends; its hops come for themselves.
    pub(crate) fn append(&mut self, mut later: Self) {
        self.total += later.total;
        self.hop = later.hop;
        for (held, peak) in self.held.iter_mut().zip(later.held) {
            *held = held.max(peak);
        }
        for (overs, later) in self.overs.iter_mut().flatten().zip(later.overs.iter().flatten()) {
            overs.append(*later);
        }
        let later_tops = later.flat_tops.into_iter().flatten();
        for (tops, later) in self.flat_tops.iter_mut().flatten().zip(later_tops) {
            tops.append(later);
        }
        for (later, earlier) in later.true_peaks.iter_mut().zip(&self.true_peaks) {
            later.raise(earlier.held());
        }
        self.true_peaks = later.true_peaks;
        self.limiter.append(later.limiter);
    }

    /// All that is held of peaks.
    pub(crate) fn peaks_held(&self) -> PeaksHeld {
        PeaksHeld {
            held: self.held,
            pairs: std::array::from_fn(|pair| PairPeaks {
                overs: self.overs.get(pair).copied().unwrap_or_default(),
                true_peaks: self.true_peaks.get(pair).map_or([0.0; 3], TruePeaks::held),
            }),
            limiter: self.limiter,
        }
    }

    /// Goes back to the peaks as they were, `hops` hops ago.
    pub(crate) fn return_to(&mut self, peaks: PeaksHeld, hops: usize) {
        self.held = peaks.held;
        self.let_true_peaks_go();
        let pairs = self.true_peaks.iter_mut().zip(&mut self.overs).zip(peaks.pairs);
        for ((detectors, overs), held) in pairs {
            detectors.raise(held.true_peaks);
            *overs = held.overs;
        }
        self.limiter = peaks.limiter;
        self.hop.peaks = [0.0; SIGNALS];
        self.peaks.clear_latest(hops);
    }

    /// Takes the frames `range` of a batch; `bus_over` hears at which frames of the batch overs of the
    /// bus begin.
    pub(crate) fn take(
        &mut self,
        pairs: &[PairBatch],
        range: Range<usize>,
        mut bus_over: impl FnMut(usize),
    ) {
        let mut energies = BusEnergies::default();
        let mut peaks = [0f32; SIGNALS];
        let mut begun = 0;
        for (index, pair) in pairs.iter().enumerate() {
            let (a, b) = (&pair.a[range.clone()], &pair.b[range.clone()]);
            let of_pair = pair_energies(self.arch, a, b);
            let largest = largest(self.arch, a, b);
            if index < self.halves_pairs {
                energies.halves += of_pair;
                for (peak, largest) in peaks.iter_mut().zip(largest) {
                    *peak = peak.max(largest);
                }
                self.count_overs_of_sum(index, pair, &range, largest[SUM]);
            } else {
                energies.others += of_pair.aa + of_pair.bb;
            }
            peaks[BUS] = peaks[BUS].max(largest[A]).max(largest[B]);
            begun |= self.count_overs(index, [a, b], largest);
            if let Some(tops) = self.flat_tops.get_mut(index) {
                tops[A].take(a, largest[A]);
                tops[B].take(b, largest[B]);
            }
        }
        while begun != 0 {
            bus_over(range.start + begun.trailing_zeros() as usize);
            begun &= begun - 1;
        }
        self.total += energies;
        self.hop.energies.energies += energies;
        self.hop.energies.frames += range.len() as u64;
        for signal in [A, B, SUM, BUS] {
            self.held[signal] = self.held[signal].max(peaks[signal]);
            self.hop.peaks[signal] = self.hop.peaks[signal].max(peaks[signal]);
        }
        if self.limiter.is_moved_by(peaks[BUS]) {
            let magnitudes = bus_magnitudes(pairs, &range);
            self.limiter.take(&magnitudes[..range.len()]);
        }
    }

    /// Counts the overs of a pair's channels and says where they begin, a bit a frame.
    fn count_overs(&mut self, pair: usize, channels: [&[f32]; 2], largest: [f32; 3]) -> u64 {
        let mut begun = 0;
        for half in [A, B] {
            let overs = &mut self.overs[pair][half];
            if largest[half] < self.full_scale {
                overs.take_none();
            } else {
                begun |= overs.take(channels[half], self.full_scale);
            }
        }
        begun
    }

    fn count_overs_of_sum(
        &mut self,
        pair: usize,
        batch: &PairBatch,
        range: &Range<usize>,
        largest: f32,
    ) {
        let overs = &mut self.overs[pair][SUM];
        if largest < self.full_scale {
            overs.take_none();
        } else {
            overs.take(&sum_of(batch)[range.clone()], self.full_scale);
        }
    }

    /// Takes a whole batch for the true peaks; `has_b` says of each pair whether it has two channels.
    pub(crate) fn take_true_peaks(
        &mut self,
        pairs: &[PairBatch],
        has_b: impl Iterator<Item = bool>,
    ) {
        let arch = self.arch;
        self.each_true_peaks(pairs, has_b, |detectors, batches| detectors.take(arch, batches));
    }

    /// Takes a whole batch that is not to be read.
    pub(crate) fn pass(&mut self, pairs: &[PairBatch], has_b: impl Iterator<Item = bool>) {
        self.each_true_peaks(pairs, has_b, TruePeaks::pass);
        self.overs.iter_mut().flatten().for_each(Overs::take_none);
        self.cut();
        self.limiter.rest();
    }

    fn each_true_peaks(
        &mut self,
        pairs: &[PairBatch],
        has_b: impl Iterator<Item = bool>,
        take: impl Fn(&mut TruePeaks, &[&Batch]),
    ) {
        let detectors = self.true_peaks.iter_mut().enumerate();
        for (((index, detectors), pair), has_b) in detectors.zip(pairs).zip(has_b) {
            match (has_b, index < self.halves_pairs) {
                (true, true) => take(detectors, &[&pair.a, &pair.b, &sum_of(pair)]),
                (true, false) => take(detectors, &[&pair.a, &pair.b]),
                (false, _) => take(detectors, &[&pair.a]),
            }
        }
    }

    /// Closes a hop of 10 ms and says what it brought.
    pub(crate) fn end_hop(&mut self) -> BandHop {
        std::mem::take(&mut self.hop)
    }

    /// Takes a hop into the windows.
    pub(crate) fn push_hop(&mut self, hop: &BandHop) {
        self.hops.push(hop.energies);
        self.peaks.push(hop.peaks);
    }

    /// Energies since reset.
    pub(crate) fn total(&self) -> &BusEnergies {
        &self.total
    }

    /// Energies and frames of the latest hops, as many of `hops` as there are.
    pub(crate) fn latest(&self, hops: usize) -> (BusEnergies, u64) {
        let mut energies = BusEnergies::default();
        let mut frames = 0;
        for hop in self.hops.latest(hops) {
            energies += hop.energies;
            frames += hop.frames;
        }
        (energies, frames)
    }

    /// Largest magnitudes since reset.
    pub(crate) fn held(&self) -> [f32; SIGNALS] {
        self.held
    }

    /// Largest magnitudes of the latest hops and of the one that is open.
    pub(crate) fn latest_peaks(&self, hops: usize) -> [f32; SIGNALS] {
        self.peaks
            .latest(hops)
            .fold(self.hop.peaks, |held, peaks| std::array::from_fn(|i| held[i].max(peaks[i])))
    }

    /// Overs of a signal since reset, counted a channel and added up.
    pub(crate) fn overs(&self, signal: usize) -> u64 {
        let (halves, _) = self.overs.split_at(self.halves_pairs);
        let of = |pairs: &[[Overs; 3]], signal: usize| -> u64 {
            pairs.iter().map(|pair| pair[signal].count).sum()
        };
        match signal {
            BUS => of(&self.overs, A) + of(&self.overs, B),
            _ => of(halves, signal),
        }
    }

    /// Flat tops of all channels since reset, those at full scale left out.
    pub(crate) fn flat_tops(&self) -> u64 {
        let tops = self.flat_tops.iter().flatten();
        tops.map(|tops| tops.count(self.held[BUS], self.full_scale)).sum()
    }

    /// The last frame before `end` at which a flat top began, of those that are remembered.
    pub(crate) fn flat_top_before(&self, end: u64) -> Option<u64> {
        let tops = self.flat_tops.iter().flatten();
        let moments = tops.flat_map(|tops| tops.moments(self.held[BUS], self.full_scale));
        moments.filter(|&frame| frame < end).max()
    }

    /// True peak of a signal since reset.
    pub(crate) fn true_peak(&self, signal: usize) -> Level {
        let (halves, others) = self.true_peaks.split_at(self.halves_pairs);
        let over = |pairs: &[TruePeaks], signal: usize| {
            pairs.iter().map(|pair| pair.held()[signal]).fold(0.0, f32::max)
        };
        let held = match signal {
            BUS => [over(halves, A), over(halves, B), over(others, A), over(others, B)]
                .into_iter()
                .fold(0.0, f32::max),
            _ => over(halves, signal),
        };
        Level::from_amplitude(f64::from(held))
    }
}

/// The largest magnitude of any channel, frame by frame, from the start of the array.
fn bus_magnitudes(pairs: &[PairBatch], range: &Range<usize>) -> Batch {
    let mut held = [0.0; BATCH_FRAMES];
    for pair in pairs {
        raise_to_magnitudes(&mut held, &pair.a[range.clone()]);
        raise_to_magnitudes(&mut held, &pair.b[range.clone()]);
    }
    held
}

/// A + B at unity gain.
fn sum_of(pair: &PairBatch) -> Batch {
    std::array::from_fn(|i| pair.a[i] + pair.b[i])
}
