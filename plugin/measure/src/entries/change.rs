//! The change from one entry to another: what every kind of meter shows of it, what happened, and one
//! sentence.

mod balance;
mod comb;
mod differences;
mod halves;
mod happened;
mod judge;
mod one_signal;
mod pair;
mod ratio;
mod sentence;
mod shown_by;
mod two;
mod what;

use serde::Serialize;

use super::levels::BandLevels;
use super::stretch::Stretch;
use crate::detector::MeterKind;
use crate::verdict::thresholds::NOTHING_DB;
use crate::words;
pub use comb::CopyFound;
pub use what::What;

/// What has to be measured of an entry before changes are named, in seconds: three, less what the band's
/// filters join to its neighbours.
pub(crate) const NAMED_FROM_S: f64 = 2.45;

/// See the module.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// The number of the entry that it is a change from.
    pub against: u64,
    /// Peaks are compared over so many seconds of both.
    pub peaks_over_s: f64,
    /// Differences in the whole band, in dB.
    pub whole: BandLevels,
    /// Differences in the audible band, in dB.
    pub audible: BandLevels,
    /// What happened.
    pub what: What,
    /// What else the signal allows.
    pub or: Vec<What>,
    /// The copy that came, or that is heard at another delay.
    pub copy: Option<CopyFound>,
    /// The meters that show it.
    pub shown_by: Vec<MeterKind>,
    /// The meters that do not.
    pub not_shown_by: Vec<MeterKind>,
    /// All of it in plain words.
    pub sentence: String,
}

impl Change {
    /// What the user's own meter shows of it; a stereo meter sees the bus. None where it has no reading.
    #[must_use]
    pub fn on_yours(&self, kind: MeterKind) -> Option<String> {
        /// Filters ring on below what can be heard.
        const SILENCE_DB: f64 = 100.0;
        let band = if kind.audible { &self.audible } else { &self.whole };
        let db = band.bus.of(kind.detector).db()?;
        Some(match db {
            db if db.abs() < NOTHING_DB => "Your meter does not move.".to_owned(),
            db if db <= -SILENCE_DB => "Your meter falls to silence.".to_owned(),
            db if db >= SILENCE_DB => "Your meter rises from silence.".to_owned(),
            db => format!("Your meter shows {} dB.", words::signed(db, 1)),
        })
    }

    /// What changed from one entry to a later one.
    #[must_use]
    pub fn new(before: &Stretch, after: &Stretch) -> Self {
        let (peaks_over_s, [whole, audible]) = differences::of(before, after);
        let verdict = judge::judge(before, after);
        let has_sum = after.evidence.has_b && before.evidence.has_b;
        let meters = shown_by::Meters::new([&whole, &audible], has_sum, &verdict);
        let sentence = sentence::of(before, after, &verdict, &meters);
        Self {
            against: before.number,
            peaks_over_s,
            whole,
            audible,
            what: verdict.what,
            or: verdict.or,
            copy: verdict.copy,
            shown_by: meters.shown_by,
            not_shown_by: meters.not_shown_by,
            sentence,
        }
    }
}
