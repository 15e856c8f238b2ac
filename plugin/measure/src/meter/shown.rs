//! What an entry reads from a meter that keeps its detail: what every kind of meter shows, and the
//! energies that changes are told from.

use super::Meter;
use super::detail::{Detail, Tally};
use crate::book::BandBook;
use crate::detector::{Detector, Shown};
use crate::energy::PairEnergies;
use crate::k_weighting::LOUDNESS_OFFSET_DB;
use crate::level::Level;
use crate::settings::Edges;
use crate::signal::{BUS, SUM};

/// The detectors whose highest is read, in this order.
pub(crate) const HELD: [Detector; 4] =
    [Detector::SamplePeak, Detector::TruePeak, Detector::Programme1, Detector::Programme2];
/// Linear peaks: `[band][sum, bus][detector]`, whole band first.
pub(crate) type HeldPeaks = [[[f32; HELD.len()]; 2]; 2];

/// A mean square that is nothing: −180 dBFS.
const NOTHING: f64 = 1e-18;
/// RMS of a sine over its rectified average: π/(2·√2).
const SINE_FORM_FACTOR: f64 = std::f64::consts::PI / (2.0 * std::f64::consts::SQRT_2);

impl Meter {
    fn tally(&self) -> Option<&Tally> {
        self.detail().and_then(Detail::tally)
    }

    fn bands(&self) -> [&BandBook; 2] {
        [&self.measured.books.whole, &self.measured.books.audible]
    }

    /// The peaks held since reset; those of programme meters are 0 without detail.
    pub(crate) fn held_peaks(&self) -> HeldPeaks {
        let mut bands = self.bands().into_iter().enumerate();
        std::array::from_fn(|_| {
            let Some((band, book)) = bands.next() else { return Default::default() };
            let programme = self.tally().map(|tally| tally.programme(band == 1));
            let programme = programme.unwrap_or_default();
            let held = book.held();
            std::array::from_fn(|index| {
                let signal = [SUM, BUS][index];
                let [one, two] = programme[index];
                [held[signal], book.true_peak(signal), one, two]
            })
        })
    }

    /// What every kind of meter shows since reset: `[band][sum, bus]`, whole band first. No readings of
    /// a sum in mono.
    pub(crate) fn shown(&self) -> [[Shown; 2]; 2] {
        let peaks = self.held_peaks();
        std::array::from_fn(|band| {
            std::array::from_fn(|signal| self.shown_of(band, signal, &peaks))
        })
    }

    fn shown_of(&self, band: usize, signal: usize, peaks: &HeldPeaks) -> Shown {
        if signal == 0 && !self.has_b() {
            return Default::default();
        }
        let book = self.bands()[band];
        let frames = self.measured.frames as f64;
        let rectified = self.tally().map(|tally| tally.rectified(band == 1)[signal]);
        let rectified = rectified.unwrap_or(f64::NAN);
        let [energies, bus] = [book.total().halves.sum, book.total().bus()];
        let hops_s = self.measured.hops as f64 / super::HOPS_A_SECOND;
        let weighted = book.weighted()[[SUM, BUS][signal]] / (hops_s * self.measured.rate_hz);
        // What rings on in a filter for ever is silence.
        let level =
            |power: f64| if power < NOTHING { Level::SILENCE } else { Level::from_power(power) };
        let held = |detector| HELD.iter().position(|&held| held == detector);
        Detector::ALL.map(|detector| match detector {
            Detector::Rms => level(match signal {
                0 => energies / (frames * self.measured.layout.halves_pairs as f64),
                _ => bus / (frames * self.measured.layout.channels() as f64),
            }),
            Detector::Needle => level((SINE_FORM_FACTOR * rectified).powi(2)),
            Detector::Momentary => level(weighted).plus(LOUDNESS_OFFSET_DB),
            detector => held(detector)
                .map_or(Level::NONE, |index| level(f64::from(peaks[band][signal][index]).powi(2))),
        })
    }

    /// Energies of the halves and of all channels, means over the frames since reset, whole band
    /// first; all pairs together.
    pub(crate) fn mean_energies(&self) -> [(PairEnergies, f64); 2] {
        let share = 1.0 / (self.measured.frames.max(1)) as f64;
        self.bands().map(|book| {
            let PairEnergies { aa, bb, ab, sum, difference } = book.total().halves;
            let [aa, bb, ab, sum, difference] =
                [aa, bb, ab, sum, difference].map(|energy| energy * share);
            (PairEnergies { aa, bb, ab, sum, difference }, book.total().bus() * share)
        })
    }

    /// Frames measured since reset.
    pub(crate) fn frames(&self) -> u64 {
        self.measured.frames
    }

    /// How many channels the bus has.
    pub(crate) fn channels(&self) -> usize {
        self.measured.layout.channels()
    }

    /// The edges of the audible band.
    pub(crate) fn edges(&self) -> Edges {
        self.measured.settings.edges
    }

    /// Whether there are two halves.
    pub(crate) fn has_halves(&self) -> bool {
        self.has_b()
    }
}
