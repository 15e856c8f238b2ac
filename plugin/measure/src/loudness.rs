//! Loudness: ITU-R BS.1770-5 with gating, EBU Tech 3341 momentary (400 ms) and short-term (3 s),
//! EBU Tech 3342 loudness range.
//!
//! Works on K-weighted energies summed over hops of 10 ms. Momentary and short-term are taken every
//! hop; gating blocks and the loudness range every tenth.

mod histogram;

use std::cell::Cell;

use crate::k_weighting::LOUDNESS_OFFSET_DB;
use crate::level::Level;
use crate::signal::SIGNALS;
use crate::sliding::SlidingSum;
use histogram::Histogram;

/// Hops in the momentary window and in a gating block: 400 ms.
const MOMENTARY_HOPS: usize = 40;
/// Hops in the short-term window: 3 s.
const SHORT_TERM_HOPS: usize = 300;
/// Hops between gating blocks: 100 ms, an overlap of 75 %.
const GATE_HOPS: usize = 10;
/// Second gate of BS.1770-5: this far below the loudness of what passed the first.
const RELATIVE_GATE_LU: f64 = -10.0;
/// Second gate of EBU Tech 3342.
const RANGE_GATE_LU: f64 = -20.0;
/// Percentiles between which EBU Tech 3342 takes the range.
const RANGE_PERCENTILES: (f64, f64) = (0.10, 0.95);

/// Loudness of the signals of one band, each a sum of channel powers.
pub(crate) struct Loudness {
    momentary: SlidingSum<SIGNALS>,
    short_term: SlidingSum<SIGNALS>,
    momentary_frames: SlidingSum<1>,
    short_term_frames: SlidingSum<1>,
    momentary_max: [f64; SIGNALS],
    short_term_max: [f64; SIGNALS],
    gated: [Histogram; SIGNALS],
    ranged: [Histogram; SIGNALS],
    /// Integrated loudness and range of each signal, as long as no block has come since they were
    /// worked out: readings are taken more often.
    known: [Cell<Option<[Level; 2]>>; SIGNALS],
    /// How many of the histograms still hold what was there before the latest reset.
    stale: usize,
    hops: usize,
}

impl Loudness {
    pub(crate) fn new() -> Self {
        Self {
            momentary: SlidingSum::new(MOMENTARY_HOPS),
            short_term: SlidingSum::new(SHORT_TERM_HOPS),
            momentary_frames: SlidingSum::new(MOMENTARY_HOPS),
            short_term_frames: SlidingSum::new(SHORT_TERM_HOPS),
            momentary_max: [0.0; SIGNALS],
            short_term_max: [0.0; SIGNALS],
            gated: std::array::from_fn(|_| Histogram::new()),
            ranged: std::array::from_fn(|_| Histogram::new()),
            known: std::array::from_fn(|_| Cell::new(None)),
            stale: 0,
            hops: 0,
        }
    }

    /// Clears what was measured, but for the histograms: they are cleared one by one by
    /// [`tidy`](Self::tidy), or all together when the next hop comes first.
    pub(crate) fn reset(&mut self) {
        self.momentary.reset();
        self.short_term.reset();
        self.momentary_frames.reset();
        self.short_term_frames.reset();
        self.momentary_max = [0.0; SIGNALS];
        self.short_term_max = [0.0; SIGNALS];
        self.known.iter().for_each(|known| known.set(None));
        self.stale = 2 * SIGNALS;
        self.hops = 0;
    }

    /// Clears one of the histograms that a reset has left; false if there is none.
    pub(crate) fn tidy(&mut self) -> bool {
        let Some(left) = self.stale.checked_sub(1) else { return false };
        self.stale = left;
        let histograms = self.gated.iter_mut().chain(&mut self.ranged);
        histograms.skip(left).take(1).for_each(Histogram::reset);
        true
    }

    /// Takes the K-weighted energies of a hop of `frames` frames.
    pub(crate) fn push(&mut self, energies: [f64; SIGNALS], frames: usize) {
        while self.tidy() {}
        self.momentary.push(energies);
        self.short_term.push(energies);
        self.momentary_frames.push([frames as f64]);
        self.short_term_frames.push([frames as f64]);
        let momentary = mean(&self.momentary, &self.momentary_frames);
        let short_term = mean(&self.short_term, &self.short_term_frames);
        keep_max(&mut self.momentary_max, momentary);
        keep_max(&mut self.short_term_max, short_term);
        self.hops += 1;
        if self.hops == GATE_HOPS {
            self.hops = 0;
            self.known.iter().for_each(|known| known.set(None));
            collect(&mut self.gated, momentary);
            collect(&mut self.ranged, short_term);
        }
    }

    pub(crate) fn momentary(&self, signal: usize) -> Level {
        optional(mean(&self.momentary, &self.momentary_frames).map(|powers| powers[signal]))
    }

    pub(crate) fn short_term(&self, signal: usize) -> Level {
        optional(mean(&self.short_term, &self.short_term_frames).map(|powers| powers[signal]))
    }

    pub(crate) fn momentary_max(&self, signal: usize) -> Level {
        optional(self.momentary.sum().map(|_| self.momentary_max[signal]))
    }

    pub(crate) fn short_term_max(&self, signal: usize) -> Level {
        optional(self.short_term.sum().map(|_| self.short_term_max[signal]))
    }

    /// Gated loudness since reset; silence where blocks exist and none passes the first gate.
    pub(crate) fn integrated(&self, signal: usize) -> Level {
        self.known(signal)[0]
    }

    /// Loudness range since reset, in LU; none before two short-term readings passed the gates.
    pub(crate) fn range(&self, signal: usize) -> Level {
        self.known(signal)[1]
    }

    fn known(&self, signal: usize) -> [Level; 2] {
        let known = self.known[signal].get();
        known.unwrap_or_else(|| {
            let integrated = match self.momentary.sum() {
                Some(_) => gated_mean(&self.gated[signal]),
                None => Level::NONE,
            };
            let range = match self.short_term.sum() {
                Some(_) => gated_range(&self.ranged[signal]),
                None => Level::NONE,
            };
            self.known[signal].set(Some([integrated, range]));
            [integrated, range]
        })
    }
}

/// Loudness range (EBU Tech 3342), in LU, of short-term readings that were written down, in LUFS.
/// None before two of them passed the gates.
#[must_use]
pub fn loudness_range(short_term: impl IntoIterator<Item = Level>) -> Level {
    let mut ranged = Histogram::new();
    let powers = short_term.into_iter().filter_map(|level| level.plus(-LOUDNESS_OFFSET_DB).power());
    powers.for_each(|power| ranged.push(power));
    gated_range(&ranged)
}

fn gated_mean(gated: &Histogram) -> Level {
    match gated.mean_above(0.0) {
        None => Level::SILENCE,
        Some(ungated) => {
            let threshold = ungated * 10f64.powf(RELATIVE_GATE_LU / 10.0);
            optional(gated.mean_above(threshold))
        }
    }
}

fn gated_range(ranged: &Histogram) -> Level {
    let Some(ungated) = ranged.mean_above(0.0) else {
        return Level::NONE;
    };
    let threshold = ungated * 10f64.powf(RANGE_GATE_LU / 10.0);
    let (low, high) = RANGE_PERCENTILES;
    match ranged.percentiles_above(threshold, [low, high]) {
        Some([low, high]) => loudness(high).minus(loudness(low)),
        None => Level::NONE,
    }
}

fn mean(energies: &SlidingSum<SIGNALS>, frames: &SlidingSum<1>) -> Option<[f64; SIGNALS]> {
    let [frames] = frames.sum()?;
    energies.sum().map(|sums| sums.map(|sum| sum / frames))
}

fn keep_max(held: &mut [f64; SIGNALS], powers: Option<[f64; SIGNALS]>) {
    for (held, power) in held.iter_mut().zip(powers.into_iter().flatten()) {
        *held = held.max(power);
    }
}

fn collect(into: &mut [Histogram; SIGNALS], powers: Option<[f64; SIGNALS]>) {
    for (histogram, power) in into.iter_mut().zip(powers.into_iter().flatten()) {
        histogram.push(power);
    }
}

/// BS.1770-5, eq. 2: loudness of a weighted power.
fn loudness(power: f64) -> Level {
    Level::from_power(power).plus(LOUDNESS_OFFSET_DB)
}

fn optional(power: Option<f64>) -> Level {
    power.map_or(Level::NONE, loudness)
}
