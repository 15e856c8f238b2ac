//! What an entry holds in its two halves, and by how much chance moves that.

use super::super::evidence::{Evidence, MeanEnergies};
use super::two::Two;
use crate::words;

/// Share of the audible band from which on it tells all.
const LEAST_AUDIBLE: f64 = 1e-3;
/// Power against the bus below which a half is silent: −60 dB.
pub(super) const SILENT: f64 = 1e-6;
/// A difference of the halves this far below their sum is none: −15 dB.
const ONE_SIGNAL: f64 = 0.03;
/// From this correlation on, one half is the other times a gain.
pub(super) const WHOLLY: f64 = 0.999_9;
/// Places of the halves among the signals of a row.
pub(super) const HALVES: [usize; 2] = [0, 1];
/// Chance is given so many standard deviations.
pub(super) const DEVIATIONS: f64 = 4.0;
/// An error that is told is so many.
const TOLD_DEVIATIONS: f64 = 2.0;
/// By this and more a level changed, in dB.
pub(super) const MOVED_DB: f64 = 0.15;

/// The halves of one entry.
#[derive(Clone, Copy)]
pub(super) struct Pair {
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) sum: f64,
    difference: f64,
    pub(super) correlation: f64,
}

impl Pair {
    pub(super) fn new(evidence: &Evidence) -> Self {
        // Rumble wanders too much to say anything in seconds, unless there is nothing else.
        let [whole, audible] = &evidence.energies;
        let MeanEnergies { halves, .. } =
            if audible.bus > LEAST_AUDIBLE * whole.bus { audible } else { whole };
        Self {
            a: halves.aa,
            b: halves.bb,
            sum: halves.sum,
            difference: halves.difference,
            correlation: halves.ab / (halves.aa * halves.bb).sqrt().max(f64::MIN_POSITIVE),
        }
    }

    pub(super) fn is_one_signal(&self) -> bool {
        self.difference <= ONE_SIGNAL * self.sum
    }

    /// Whether one half is the other times a gain.
    pub(super) fn is_wholly_one(&self) -> bool {
        self.correlation >= WHOLLY && self.silent() == [false, false]
    }

    /// Which of the halves are silent.
    pub(super) fn silent(&self) -> [bool; 2] {
        let least = SILENT * (self.a + self.b);
        [self.a <= least, self.b <= least]
    }
}

/// By how much the level of either half changed, in dB.
pub(super) fn changes_db([from, to]: [Pair; 2]) -> [f64; 2] {
    [to.a / from.a, to.b / from.b].map(|ratio| 10.0 * ratio.log10())
}

/// Whether both halves hold the same sound before and after, however strong.
pub(super) fn are_one_sound(pairs: [Pair; 2]) -> bool {
    pairs.iter().all(Pair::is_one_signal) || pairs.iter().all(Pair::is_wholly_one)
}

/// By how much the level of either half changes by chance, in dB.
pub(super) fn chances_db(two: &Two) -> [f64; 2] {
    level_chances_db([two.before, two.after].map(Evidence::halves_deviation_db))
}

/// The same from the deviations of both halves before and after.
pub(super) fn level_chances_db([before, after]: [[f64; 2]; 2]) -> [f64; 2] {
    HALVES.map(|half| (DEVIATIONS * before[half].hypot(after[half])).max(MOVED_DB))
}

/// By no more than this the level of either half that sounds changed, in dB: neither by chance nor by what was
/// measured.
pub(super) fn most_changed_db(two: &Two) -> f64 {
    let pairs = [two.before, two.after].map(Pair::new);
    let (changes, chances_db) = (changes_db(pairs), chances_db(two));
    let sounds = |half: &usize| pairs.iter().all(|pair| !pair.silent()[*half]);
    let most = |half: usize| chances_db[half].max(changes[half].abs());
    HALVES.into_iter().filter(sounds).map(most).fold(0.0, f64::max)
}

/// Changes of the halves' levels in words, each with its error.
pub(super) fn told(changes_db: [f64; 2], chances_db: [f64; 2]) -> [String; 2] {
    HALVES.map(|half| {
        words::with_error(changes_db[half], chances_db[half] * TOLD_DEVIATIONS / DEVIATIONS)
    })
}
