//! The entry that is under way.

use super::clock::Clock;
use super::evidence::{Evidence, Fine, Kurtosis, MeanEnergies, PeakMarks, Scatter};
use super::finder::{BUS, Row};
use super::levels::{BandLevels, EntryLevels, ShownLevels};
use super::stretch::{OpenedBy, Stretch};
use crate::detector::Shown;
use crate::meter::{Detail, Meter};
use crate::settings::View;

/// How long the stretches are whose kurtosis is taken, in seconds.
const KURTOSIS_S: f64 = 0.5;

/// Sums of squares and of fourth powers.
type Sums = [[[f64; 2]; 3]; 2];

/// What has been kept of an entry while it lasts, beside what the meter keeps.
pub(super) struct UnderWay {
    pub(super) number: u64,
    pub(super) opened_by: OpenedBy,
    /// Where it begins, in frames of the stream.
    pub(super) start: u64,
    pub(super) clock: Clock,
    /// The frame from which on frames count.
    pub(super) counts_from: u64,
    pub(super) incomplete: bool,
    scatter: Scatter,
    peaks: PeakMarks,
    kurtosis: [[KurtosisMean; 3]; 2],
    sums: Sums,
    sums_at_s: f64,
}

#[derive(Debug, Clone, Copy, Default)]
struct KurtosisMean {
    count: f64,
    mean: f64,
    squares: f64,
}

impl KurtosisMean {
    fn take(&mut self, value: f64) {
        self.count += 1.0;
        let off = value - self.mean;
        self.mean += off / self.count;
        self.squares += off * (value - self.mean);
    }

    fn told(&self) -> Kurtosis {
        let variance = self.squares / (self.count - 1.0).max(1.0);
        let deviation =
            if self.count < 3.0 { f64::INFINITY } else { (variance / self.count).sqrt() };
        Kurtosis { value: self.mean, deviation }
    }
}

impl UnderWay {
    pub(super) fn new(number: u64, opened_by: OpenedBy, start: u64, clock: Clock) -> Self {
        Self {
            number,
            opened_by,
            start,
            clock,
            counts_from: start,
            incomplete: false,
            scatter: Scatter::default(),
            peaks: PeakMarks::default(),
            kurtosis: Default::default(),
            sums: Default::default(),
            sums_at_s: 0.0,
        }
    }

    /// Hears of a row whose middle lies in it.
    pub(super) fn take_row(&mut self, row: &Row) {
        self.scatter.take(row);
    }

    /// Follows the meter, which has just measured some frames of it.
    pub(super) fn follow(&mut self, meter: &Meter) {
        let measured_s = meter.frames() as f64 / meter.rate_hz();
        if measured_s >= self.peaks.due_s() {
            self.peaks.note(measured_s, meter.held_peaks());
        }
        if measured_s >= self.sums_at_s + KURTOSIS_S {
            self.take_kurtosis(meter, measured_s);
        }
    }

    fn take_kurtosis(&mut self, meter: &Meter, measured_s: f64) {
        let Some(tally) = meter.detail().and_then(Detail::tally) else { return };
        let sums: Sums = std::array::from_fn(|band| {
            tally.moments(band == 1).map(|moments| [moments.squares, moments.fourths])
        });
        let frames = (measured_s - self.sums_at_s) * meter.rate_hz();
        for (band, signals) in self.kurtosis.iter_mut().enumerate() {
            for (signal, mean) in signals.iter_mut().enumerate() {
                let [squares, fourths] = std::array::from_fn(|index| {
                    sums[band][signal][index] - self.sums[band][signal][index]
                });
                let kurtosis = fourths * frames / (squares * squares);
                if kurtosis.is_finite() {
                    mean.take(kurtosis);
                }
            }
        }
        (self.sums, self.sums_at_s) = (sums, measured_s);
    }

    /// What is known of it as it stands, which ends at frame `end` of the stream for now.
    pub(super) fn stretch(&self, meter: &Meter, view: &View, end: u64, clock: Clock) -> Stretch {
        let rate_hz = meter.rate_hz();
        let measured_s = meter.frames() as f64 / rate_hz;
        let mut peaks = self.peaks.clone();
        peaks.note(measured_s, meter.held_peaks());
        let reading = meter.reading(view);
        let fine = meter.detail().map(|detail| Fine::new(&detail.fine_spectrum()));
        let hidden = &reading.hidden;
        Stretch {
            number: self.number,
            opened_by: self.opened_by,
            steady: self.scatter.is_steady(BUS),
            incomplete: self.incomplete,
            start_s: self.start as f64 / rate_hz,
            end_s: end as f64 / rate_hz,
            start: self.clock,
            end: clock,
            levels: levels(meter.shown()),
            edges: meter.edges(),
            evidence: Evidence {
                measured_s,
                rate_hz,
                has_b: meter.has_halves(),
                channels: meter.channels(),
                energies: meter.mean_energies().map(|(halves, bus)| MeanEnergies { halves, bus }),
                kurtosis: self.kurtosis.map(|signals| signals.map(|mean| mean.told())),
                scatter: self.scatter,
                peaks,
                fine: fine.unwrap_or_default(),
                hidden: [hidden.above_dbfs, hidden.below_dbfs, hidden.dc_dbfs],
            },
            reading,
        }
    }
}

fn levels([whole, audible]: [[Shown; 2]; 2]) -> EntryLevels {
    let band = |[sum, bus]: [Shown; 2]| BandLevels { sum: ShownLevels(sum), bus: ShownLevels(bus) };
    EntryLevels { whole: band(whole), audible: band(audible) }
}
