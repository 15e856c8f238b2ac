//! Which meters show a change, and which do not.

use super::super::levels::BandLevels;
use super::happened::Verdict;
use super::what::What;
use crate::detector::{Detector, MeterKind};

/// A meter shows a change of which it shows at least this share; it does not show one of which it shows
/// less than the second share.
const SHOWS: f64 = 0.7;
const HIDES: f64 = 0.25;
/// Changes smaller than this show on no meter, in dB; nor smaller ones than the second figure where the
/// audible RMS does not show one: a noise's peaks differ by that from one stretch to the next.
const LEAST_DB: f64 = 0.3;
const LEAST_PEAK_DB: f64 = 1.0;

/// What the meters show of a change.
pub(super) struct Meters {
    pub(super) shown_by: Vec<MeterKind>,
    pub(super) not_shown_by: Vec<MeterKind>,
    /// By how much each kind moves, whole band, then audible band; silence is −∞.
    pub(super) moves: [Vec<(Detector, f64)>; 2],
    /// By how much the RMS of a stereo meter moves, where it sees the halves by themselves.
    pub(super) stereo_db: Option<f64>,
}

impl Meters {
    pub(super) fn new(bands: [&BandLevels; 2], has_sum: bool, verdict: &Verdict) -> Self {
        let moves = bands.map(|band| {
            let shown = if has_sum { &band.sum } else { &band.bus };
            let levels = Detector::ALL.into_iter().zip(shown.0);
            levels.filter_map(|(detector, level)| Some((detector, level.db()?))).collect::<Vec<_>>()
        });
        let largest_db = moves.iter().flatten().map(|(_, db)| db.abs()).fold(0.0, f64::max);
        // Hidden content apart, what is audible is what there is to show.
        let audible = &moves[1];
        let rms = audible.iter().find(|(detector, _)| *detector == Detector::Rms);
        let is_hidden = verdict.what == What::Hidden;
        let (change_db, least_db) = match rms {
            Some((_, db)) if !is_hidden && db.abs() >= LEAST_DB => (db.abs(), LEAST_DB),
            _ => (largest_db, if is_hidden { LEAST_DB } else { LEAST_PEAK_DB }),
        };
        let mut meters = Self {
            shown_by: Vec::new(),
            not_shown_by: Vec::new(),
            moves,
            stereo_db: has_sum.then(|| bands[0].bus.of(Detector::Rms).db()).flatten(),
        };
        let is_named = !matches!(verdict.what, What::CannotTell | What::None);
        if largest_db >= least_db && is_named {
            for (band, moves) in meters.moves.iter().enumerate() {
                for &(detector, db) in moves {
                    let meter = MeterKind { detector, audible: band == 1 };
                    if db.abs() == f64::INFINITY || db.abs() >= SHOWS * change_db {
                        meters.shown_by.push(meter);
                    } else if db.abs() <= HIDES * change_db {
                        meters.not_shown_by.push(meter);
                    }
                }
            }
        }
        meters
    }

    /// By how much one kind moves in a band.
    pub(super) fn of(&self, detector: Detector, audible: bool) -> Option<f64> {
        let moves = &self.moves[usize::from(audible)];
        moves.iter().find(|(other, _)| *other == detector).map(|(_, db)| *db)
    }
}
