//! The book of one band: peaks, overs, energies, true peaks and limiter drive of A, B, sum and bus.

mod ring;

use std::ops::{AddAssign, Range};

use pulp::Arch;

use crate::band::{STEP_FRAMES, Step};
use crate::channel::MOST_CHANNELS;
use crate::energy::{PairEnergies, pair_energies};
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

/// Magnitude of full scale.
const FULL_SCALE: f32 = 1.0;
/// Hops of 10 ms in the longest RMS window, 3 s.
const ENERGY_HOPS: usize = 300;
/// Hops in the longest peak window, 10 s.
const PEAK_HOPS: usize = 1000;

/// Most pairs of channels that a bus has.
const MOST_PAIRS: usize = MOST_CHANNELS.div_ceil(2) + 1;

/// One step of a pair of channels, one of each half.
#[derive(Clone, Copy)]
pub(crate) struct PairStep {
    pub(crate) a: Step,
    pub(crate) b: Step,
}

impl PairStep {
    pub(crate) const SILENCE: Self = Self { a: [0.0; STEP_FRAMES], b: [0.0; STEP_FRAMES] };
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
    overs: [Overs; SIGNALS],
    /// `[pair]`.
    true_peaks: [[f32; 3]; MOST_PAIRS],
    limiter: LimiterDrive,
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
    pub(crate) overs: [Overs; SIGNALS],
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
            overs: [Overs::default(); SIGNALS],
            true_peaks: (0..pairs).map(|_| true_peaks()).collect(),
            limiter,
        }
    }

    /// Clears what was measured; the waveforms run on.
    pub(crate) fn reset(&mut self) {
        self.total = BusEnergies::default();
        self.hop = BandHop::default();
        self.hops.clear();
        self.held = [0.0; SIGNALS];
        self.peaks.clear();
        self.overs = [Overs::default(); SIGNALS];
        self.let_true_peaks_go();
        self.limiter.reset();
    }

    /// Counts from here on, as a part of a longer signal that a hop has just ended in: what runs
    /// goes on running. True peaks are let go for themselves.
    pub(crate) fn begin(&mut self) {
        self.total = BusEnergies::default();
        self.held = [0.0; SIGNALS];
        self.overs.iter_mut().for_each(|overs| overs.count = 0);
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
        for (overs, later) in self.overs.iter_mut().zip(later.overs) {
            overs.append(later);
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
            overs: self.overs,
            true_peaks: std::array::from_fn(|pair| {
                self.true_peaks.get(pair).map_or([0.0; 3], TruePeaks::held)
            }),
            limiter: self.limiter,
        }
    }

    /// Goes back to the peaks as they were, `hops` hops ago.
    pub(crate) fn return_to(&mut self, peaks: PeaksHeld, hops: usize) {
        self.held = peaks.held;
        self.overs = peaks.overs;
        self.let_true_peaks_go();
        for (detectors, held) in self.true_peaks.iter_mut().zip(peaks.true_peaks) {
            detectors.raise(held);
        }
        self.limiter = peaks.limiter;
        self.hop.peaks = [0.0; SIGNALS];
        self.peaks.clear_latest(hops);
    }

    /// Takes the frames `range` of a step; `bus_over` hears at which frame of the step an over of
    /// the bus begins.
    pub(crate) fn take(
        &mut self,
        pairs: &[PairStep],
        range: Range<usize>,
        mut bus_over: impl FnMut(usize),
    ) {
        let mut energies = BusEnergies::default();
        let mut peaks = [0f32; SIGNALS];
        let (halves, others) = pairs.split_at(self.halves_pairs);
        for pair in halves {
            let (a, b) = (&pair.a[range.clone()], &pair.b[range.clone()]);
            energies.halves += pair_energies(self.arch, a, b);
            for (peak, largest) in peaks.iter_mut().zip(largest(self.arch, a, b)) {
                *peak = peak.max(largest);
            }
        }
        peaks[BUS] = peaks[A].max(peaks[B]);
        for pair in others {
            let (a, b) = (&pair.a[range.clone()], &pair.b[range.clone()]);
            let of_pair = pair_energies(self.arch, a, b);
            energies.others += of_pair.aa + of_pair.bb;
            let [peak_a, peak_b, _] = largest(self.arch, a, b);
            peaks[BUS] = peaks[BUS].max(peak_a).max(peak_b);
        }
        self.total += energies;
        self.hop.energies.energies += energies;
        self.hop.energies.frames += range.len() as u64;
        for signal in [A, B, SUM, BUS] {
            self.held[signal] = self.held[signal].max(peaks[signal]);
            self.hop.peaks[signal] = self.hop.peaks[signal].max(peaks[signal]);
            if peaks[signal] < FULL_SCALE {
                self.overs[signal].take_none();
            } else {
                let magnitudes = self.magnitudes(pairs, &range, signal);
                self.overs[signal].take(&magnitudes[..range.len()], |index| {
                    if signal == BUS {
                        bus_over(range.start + index);
                    }
                });
            }
        }
        if self.limiter.is_moved_by(peaks[BUS]) {
            let magnitudes = self.magnitudes(pairs, &range, BUS);
            self.limiter.take(&magnitudes[..range.len()]);
        }
    }

    /// Takes a whole step for the true peaks; `has_b` says of each pair whether it has two channels.
    pub(crate) fn take_true_peaks(
        &mut self,
        pairs: &[PairStep],
        has_b: impl Iterator<Item = bool>,
    ) {
        let arch = self.arch;
        self.each_true_peaks(pairs, has_b, |detectors, steps| detectors.take(arch, steps));
    }

    /// Takes a whole step that is not to be read.
    pub(crate) fn pass(&mut self, pairs: &[PairStep], has_b: impl Iterator<Item = bool>) {
        self.each_true_peaks(pairs, has_b, TruePeaks::pass);
        self.overs.iter_mut().for_each(Overs::take_none);
        self.limiter.rest();
    }

    fn each_true_peaks(
        &mut self,
        pairs: &[PairStep],
        has_b: impl Iterator<Item = bool>,
        take: impl Fn(&mut TruePeaks, &[&Step]),
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

    /// The largest magnitude of any channel of a signal, frame by frame, from the start of the
    /// array.
    fn magnitudes(&self, pairs: &[PairStep], range: &Range<usize>, signal: usize) -> Step {
        let mut held = [0.0; STEP_FRAMES];
        let pairs = if signal == BUS { pairs } else { &pairs[..self.halves_pairs] };
        for pair in pairs {
            if signal == SUM {
                raise_to_magnitudes(&mut held, &sum_of(pair)[range.clone()]);
            }
            if signal == A || signal == BUS {
                raise_to_magnitudes(&mut held, &pair.a[range.clone()]);
            }
            if signal == B || signal == BUS {
                raise_to_magnitudes(&mut held, &pair.b[range.clone()]);
            }
        }
        held
    }
}

/// A + B at unity gain.
fn sum_of(pair: &PairStep) -> Step {
    std::array::from_fn(|i| pair.a[i] + pair.b[i])
}
