//! The book of one band: energies, peaks, loudness and limiter drive of A, B, sum and bus.

mod pairs;
mod ring;

use std::ops::{AddAssign, Range};

use pulp::Arch;

use crate::batch::{BATCH_FRAMES, Batch, PairBatch};
use crate::damage::Programme;
use crate::energy::{PairEnergies, pair_levels};
use crate::limiter::LimiterDrive;
use crate::loudness::Loudness;
use crate::peak::raise_to_magnitudes;
use crate::settings::{TruePeakFilter, View};
use crate::signal::{A, B, BUS, SIGNALS, SUM};
use crate::true_peak::{Shifts, TruePeaks};
use pairs::{PairBooks, PairsHeld};
use ring::Ring;

/// Hops of 10 ms in the longest RMS window, 3 s.
const ENERGY_HOPS: usize = 300;
/// Hops in the longest peak window, 10 s.
const PEAK_HOPS: usize = 1000;

/// −90 dBFS: the least step of 16 bits, 2⁻¹⁵, lies 0.3 dB lower, so dither of that word is silence. A
/// definition of ours.
const SILENT_BELOW: f32 = 3.162_277_7e-5;

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
    /// K-weighted energies.
    weighted: [f64; SIGNALS],
}

impl BandHop {
    /// Energy of all channels, and the frames it was.
    pub(crate) fn programme(&self) -> Programme {
        Programme { energy: self.energies.energies.bus(), frames: self.energies.frames }
    }

    /// Whether no sample of the bus is a signal.
    fn is_silent(&self) -> bool {
        self.peaks[BUS] < SILENT_BELOW
    }
}

/// All that is held of the peaks of one band.
#[derive(Clone, Copy)]
pub(crate) struct PeaksHeld {
    held: [f32; SIGNALS],
    pairs: PairsHeld,
    limiter: LimiterDrive,
}

pub(crate) struct BandBook {
    arch: Arch,
    /// How many of the pairs are the halves'; they come first.
    halves_pairs: usize,
    total: BusEnergies,
    hop: BandHop,
    hops: Ring<HopEnergies>,
    /// Frames of the hops without a signal since the latest that had one.
    silent_frames: u64,
    held: [f32; SIGNALS],
    peaks: Ring<[f32; SIGNALS]>,
    pairs: PairBooks,
    loudness: Loudness,
    /// K-weighted energies of all hops since reset.
    weighted: [f64; SIGNALS],
    pub(crate) limiter: LimiterDrive,
}

impl BandBook {
    /// A book for `pairs` pairs of channels, of which the first `halves_pairs` are the halves';
    /// true peaks are looked for in content up to `highest_hz`.
    pub(crate) fn new(
        rate_hz: f64,
        pairs: usize,
        halves_pairs: usize,
        true_peak: TruePeakFilter,
        highest_hz: f64,
    ) -> Self {
        let true_peaks = || TruePeaks::new(true_peak, rate_hz, highest_hz);
        Self {
            arch: Arch::new(),
            halves_pairs,
            total: BusEnergies::default(),
            hop: BandHop::default(),
            hops: Ring::new(ENERGY_HOPS),
            silent_frames: 0,
            held: [0.0; SIGNALS],
            peaks: Ring::new(PEAK_HOPS),
            pairs: PairBooks::new(pairs, halves_pairs, true_peaks),
            loudness: Loudness::new(),
            weighted: [0.0; SIGNALS],
            limiter: LimiterDrive::new(rate_hz, View::default().ceiling_db),
        }
    }

    /// Looks for flat tops from here on.
    pub(crate) fn find_flat_tops(&mut self) {
        self.pairs.find_flat_tops();
    }

    /// Says how many bits the samples' words have.
    pub(crate) fn set_word_bits(&mut self, word_bits: Option<u32>) {
        self.pairs.set_word_bits(word_bits);
    }

    /// Readies a fresh book for a signal whose first frame is frame `frame` of a longer one.
    pub(crate) fn start_at(&mut self, frame: u64) {
        self.pairs.start_at(frame);
    }

    /// What comes does not continue what came.
    pub(crate) fn cut(&mut self) {
        self.pairs.cut();
    }

    /// Clears what was measured; the waveforms run on.
    pub(crate) fn reset(&mut self) {
        self.total = BusEnergies::default();
        self.hop = BandHop::default();
        self.hops.clear();
        self.silent_frames = 0;
        self.held = [0.0; SIGNALS];
        self.peaks.clear();
        self.pairs.reset();
        self.loudness.reset();
        self.weighted = [0.0; SIGNALS];
        self.limiter.reset();
    }

    /// Has its waveforms go on from where those of `other`, a book of the same band, stand.
    pub(crate) fn follow(&mut self, other: &Self) {
        self.pairs.follow(&other.pairs);
    }

    /// Does a little of what a reset has left to do; false if nothing is left.
    pub(crate) fn tidy(&mut self) -> bool {
        self.loudness.tidy()
    }

    /// Counts from here on, as a part of a longer signal that a hop has just ended in: what runs
    /// goes on running. True peaks are let go for themselves.
    pub(crate) fn begin(&mut self) {
        self.total = BusEnergies::default();
        self.held = [0.0; SIGNALS];
        self.pairs.begin();
        self.limiter.let_go();
    }

    /// Lets go of the true peaks held so far.
    pub(crate) fn let_true_peaks_go(&mut self) {
        self.pairs.let_true_peaks_go();
    }

    /// Goes on where `later` stands, which began where this ends; its hops come for themselves.
    pub(crate) fn append(&mut self, later: Self) {
        self.total += later.total;
        self.hop = later.hop;
        for (held, peak) in self.held.iter_mut().zip(later.held) {
            *held = held.max(peak);
        }
        self.pairs.append(later.pairs);
        self.limiter.append(later.limiter);
    }

    /// All that is held of peaks.
    pub(crate) fn peaks_held(&self) -> PeaksHeld {
        PeaksHeld { held: self.held, pairs: self.pairs.held(), limiter: self.limiter }
    }

    /// Goes back to the peaks as they were, `hops` hops ago.
    pub(crate) fn return_to(&mut self, peaks: PeaksHeld, hops: usize) {
        self.held = peaks.held;
        self.pairs.return_to(peaks.pairs);
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
            let (of_pair, largest) = pair_levels(self.arch, a, b);
            if index < self.halves_pairs {
                energies.halves += of_pair;
                for (peak, largest) in peaks.iter_mut().zip(largest) {
                    *peak = peak.max(largest);
                }
            } else {
                energies.others += of_pair.aa + of_pair.bb;
            }
            peaks[BUS] = peaks[BUS].max(largest[A]).max(largest[B]);
            begun |= self.pairs.take(index, pair, &range, largest);
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

    /// Takes the K-weighted energies of the same frames.
    pub(crate) fn take_weighted(&mut self, energies: [f64; SIGNALS]) {
        self.hop.weighted.iter_mut().zip(energies).for_each(|(held, energy)| *held += energy);
    }

    /// Takes a whole batch for the true peaks, and for those with `sign` times what lies `below`
    /// added; `has_b` says of each pair whether it has two channels.
    pub(crate) fn take_true_peaks(
        &mut self,
        pairs: &[PairBatch],
        below: &Shifts,
        sign: f32,
        has_b: impl Iterator<Item = bool>,
    ) {
        self.pairs.take_true_peaks(self.arch, pairs, below, sign, has_b);
    }

    /// Takes a whole batch that is not to be read.
    pub(crate) fn pass(&mut self, pairs: &[PairBatch], has_b: impl Iterator<Item = bool>) {
        self.pairs.pass(pairs, has_b);
        self.limiter.rest();
    }

    /// Closes a hop of 10 ms and says what it brought.
    pub(crate) fn end_hop(&mut self) -> BandHop {
        std::mem::take(&mut self.hop)
    }

    /// Takes a hop into the windows.
    pub(crate) fn push_hop(&mut self, hop: &BandHop) {
        self.weighted.iter_mut().zip(hop.weighted).for_each(|(sum, energy)| *sum += energy);
        self.loudness.push(hop.weighted, hop.energies.frames as usize);
        self.hops.push(hop.energies);
        self.peaks.push(hop.peaks);
        let silent = self.silent_frames + hop.energies.frames;
        self.silent_frames = if hop.is_silent() { silent } else { 0 };
    }

    /// Frames without a signal at the end, in whole hops and the open one; 0 where there is a signal.
    pub(crate) fn silent_frames(&self) -> u64 {
        if self.hop.is_silent() { self.silent_frames + self.hop.energies.frames } else { 0 }
    }

    /// Energies since reset.
    pub(crate) fn total(&self) -> &BusEnergies {
        &self.total
    }

    /// The hop that is open.
    pub(crate) fn open_hop(&self) -> &BandHop {
        &self.hop
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
        // Not `f32::max`: its treatment of NaN takes three instructions, and no NaN comes here.
        let higher = |held: f32, peak: f32| if peak > held { peak } else { held };
        self.peaks
            .latest(hops)
            .fold(self.hop.peaks, |held, peaks| std::array::from_fn(|i| higher(held[i], peaks[i])))
    }

    /// K-weighted energies of all whole hops since reset.
    pub(crate) fn weighted(&self) -> [f64; SIGNALS] {
        self.weighted
    }

    /// Loudness of each signal.
    pub(crate) fn loudness(&self) -> &Loudness {
        &self.loudness
    }

    /// Overs of a signal since reset, counted a channel and added up.
    pub(crate) fn overs(&self, signal: usize) -> u64 {
        self.pairs.overs(signal)
    }

    /// Flat tops of all channels since reset, those at full scale left out.
    pub(crate) fn flat_tops(&self) -> u64 {
        self.pairs.flat_tops(self.held[BUS])
    }

    /// The last frame before `end` at which a flat top began, of those that are remembered.
    pub(crate) fn flat_top_before(&self, end: u64) -> Option<u64> {
        self.pairs.flat_top_before(end, self.held[BUS])
    }

    /// True peak of the bus since reset with what lies below added or taken away, linear.
    pub(crate) fn shifted_true_peak(&self) -> f32 {
        self.pairs.shifted_true_peak()
    }

    /// True peak of the bus in the stretch that ends here, linear.
    pub(crate) fn take_stretch(&mut self) -> f32 {
        self.pairs.take_stretch()
    }

    /// True peak of a signal since reset, linear.
    pub(crate) fn true_peak(&self, signal: usize) -> f32 {
        self.pairs.true_peak(signal)
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
