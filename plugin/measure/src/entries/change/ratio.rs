//! The ratio of two spectra by third octaves: whether all frequencies moved alike.

use std::ops::Range;

use super::super::evidence::{Evidence, Fine, Kept};
use super::super::finder::band_at;

/// Third-octave bands from 25 Hz to 20 kHz.
const THIRDS: i32 = 30;
const LOWEST_HZ: f64 = 25.0;
/// Bands this far below the strongest are of the main sound, in dB; those up to the second figure count
/// as something else that may stay.
const MAIN_DB: f64 = 8.0;
const WEAK_DB: f64 = 40.0;
/// Largest deviation that is none, in dB, and in standard deviations of a band's level.
const ALIKE_DB: f64 = 0.3;
const ALIKE_DEVIATIONS: f64 = 4.5;

/// How alike frequencies moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Likeness {
    /// All of them.
    Alike,
    /// Those that hold most of the level; weaker ones moved less.
    MostAlike,
    /// They did not.
    Apart,
}

/// The change of one band.
#[derive(Debug, Clone, Copy)]
pub(super) struct Third {
    pub(super) hz: f64,
    /// After less before, in dB.
    pub(super) db: f64,
    /// The standard deviation of that; and what it is of even noise.
    pub(super) deviation: f64,
    least_deviation: f64,
    /// Power in dBFS, the higher of both.
    pub(super) level_db: f64,
}

/// What a spectrum holds in some bins.
struct Held {
    power: f64,
    /// How wide a noise of even power is that scatters as much: where little of a band holds nearly all of its
    /// power, less than the band.
    width_hz: f64,
}

impl Held {
    fn new(kept: &Kept, bins: Range<usize>, fine: &Fine) -> Self {
        let most = bins.len() as f64;
        let powers = bins.map(|bin| 10f64.powf(kept.db(bin) / 10.0));
        let (power, squares) =
            powers.fold((0.0, 0.0), |(sum, squares), power| (sum + power, squares + power * power));
        // Chance makes the squares of a mean of so many transforms greater by this.
        let by_chance = 1.0 + 1.0 / fine.transforms as f64;
        let bins = (by_chance * power * power / squares).min(most);
        Self { power, width_hz: bins * fine.bin_hz }
    }

    fn db(&self) -> f64 {
        10.0 * self.power.log10()
    }
}

/// A mean change, in dB, and its standard deviation.
#[derive(Debug, Clone, Copy)]
struct Mean {
    db: f64,
    deviation: f64,
}

impl Mean {
    /// Of some bands with the variance that each has, in dB²; none where there are none.
    fn of<'a>(bands: impl Iterator<Item = (&'a Third, f64)>) -> Option<Self> {
        let (weights, sum) = bands.fold((0.0, 0.0), |(weights, sum), (third, variance)| {
            (weights + 1.0 / variance, sum + third.db / variance)
        });
        (weights > 0.0).then(|| Self { db: sum / weights, deviation: weights.sqrt().recip() })
    }

    /// Whether a band moved by as much, as far as chance lets that be told.
    fn is_of(&self, third: &Third) -> bool {
        let deviation = self.deviation.hypot(third.deviation);
        (third.db - self.db).abs() <= ALIKE_DB.max(ALIKE_DEVIATIONS * deviation)
    }

    /// Whether a band moved by as much, or by less, or not at all.
    fn is_at_least_of(&self, third: &Third) -> bool {
        let db = third.db.clamp(self.db.min(0.0), self.db.max(0.0));
        Self { db, ..*self }.is_of(third)
    }
}

/// The ratio of two spectra.
#[derive(Debug, Clone, Default)]
pub(super) struct Ratio {
    pub(super) thirds: Vec<Third>,
    strongest_db: f64,
}

impl Ratio {
    /// Of what lies in `kept` of both, where both are steady.
    pub(super) fn new([before, after]: [&Evidence; 2], kept: fn(&Fine) -> &Kept) -> Self {
        let seconds = [before.measured_s, after.measured_s];
        let is_steady =
            |hz: f64| [before, after].iter().all(|evidence| evidence.scatter.is_steady_at(hz));
        let scatters = [&before.scatter, &after.scatter];
        let (before, after) = (&before.fine, &after.fine);
        if before.bin_hz != after.bin_hz || before.transforms == 0 || after.transforms == 0 {
            return Self::default();
        }
        let (one, other) = (kept(before), kept(after));
        let edge = |third: i32| LOWEST_HZ * 2f64.powf((f64::from(third) - 0.5) / 3.0);
        let mut thirds: Vec<Third> = (0..THIRDS)
            .filter_map(|third| {
                let bin = |hz: f64| (hz / before.bin_hz).round() as usize;
                let bins = bin(edge(third)).max(1)..bin(edge(third + 1)).min(one.len());
                let hz = edge(third) * 2f64.powf(1.0 / 6.0);
                (bins.len() > 1 && is_steady(hz)).then(|| {
                    let held = |kept, fine| Held::new(kept, bins.clone(), fine);
                    let (from, to) = (held(one, before), held(other, after));
                    let deviation_db = |widths_hz: [f64; 2]| {
                        let scatter = widths_hz.iter().zip(seconds).map(|(hz, s)| 1.0 / (hz * s));
                        10.0 / std::f64::consts::LN_10 * scatter.sum::<f64>().sqrt()
                    };
                    Third {
                        hz,
                        db: to.db() - from.db(),
                        deviation: deviation_db([from.width_hz, to.width_hz]),
                        least_deviation: deviation_db([bins.len() as f64 * before.bin_hz; 2]),
                        level_db: from.db().max(to.db()),
                    }
                })
            })
            .collect();
        let power = |third: &Third| 10f64.powf(third.level_db / 10.0);
        let octaves: Vec<f64> = thirds
            .iter()
            .map(|third| {
                let same = |other: &&Third| band_at(other.hz) == band_at(third.hz);
                thirds.iter().filter(same).map(power).sum()
            })
            .collect();
        for (third, octave) in thirds.iter_mut().zip(octaves) {
            // What moves by itself moves its octave by its share of that. A tone moves neither.
            let measured = scatters.map(|scatter| scatter.deviation_at_db(third.hz));
            let most = measured[0].hypot(measured[1]) * octave / power(third);
            third.deviation = third.deviation.min(most.max(third.least_deviation));
        }
        let strongest_db = thirds.iter().map(|third| third.level_db).fold(f64::MIN, f64::max);
        Self { thirds, strongest_db }
    }

    /// The bands of the main sound.
    pub(super) fn main(&self) -> impl Iterator<Item = &Third> + Clone {
        self.thirds.iter().filter(|third| self.is_main(third))
    }

    /// The mean change of the main sound, in dB, each band by what it tells; from some frequency up.
    pub(super) fn main_db(&self, from_hz: f64) -> Option<f64> {
        self.main_mean(from_hz).map(|mean| mean.db)
    }

    /// The mean change, in dB, and what chance may make of it, three standard deviations: of all frequencies
    /// where they moved alike, or of the main sound.
    pub(super) fn level_db(&self, likeness: Likeness) -> Option<(f64, f64)> {
        let mean = match likeness {
            Likeness::Alike => self.mean(),
            Likeness::MostAlike | Likeness::Apart => self.main_mean(0.0),
        };
        mean.map(|mean| (mean.db, 3.0 * mean.deviation))
    }

    fn main_mean(&self, from_hz: f64) -> Option<Mean> {
        let bands = self.main().filter(|third| third.hz >= from_hz);
        Mean::of(bands.map(|third| (third, third.deviation.powi(2))))
    }

    /// Of all bands that count. One of a weaker sound may lie off by what still is alike.
    fn mean(&self) -> Option<Mean> {
        let variance = |third: &Third| {
            third.deviation.powi(2) + if self.is_main(third) { 0.0 } else { ALIKE_DB.powi(2) }
        };
        Mean::of(self.counted().map(|third| (third, variance(third))))
    }

    /// The bands of the main sound, and of what may stay beneath.
    fn counted(&self) -> impl Iterator<Item = &Third> {
        self.thirds.iter().filter(|third| self.counts(third))
    }

    fn is_main(&self, third: &Third) -> bool {
        third.level_db >= self.strongest_db - MAIN_DB
    }

    fn counts(&self, third: &Third) -> bool {
        third.level_db >= self.strongest_db - WEAK_DB
    }

    /// How alike the frequencies moved.
    pub(super) fn likeness(&self) -> Likeness {
        let (Some(mean), Some(main)) = (self.mean(), self.main_mean(0.0)) else {
            return Likeness::Apart;
        };
        if self.counted().all(|third| mean.is_of(third)) {
            Likeness::Alike
        } else if self.main().all(|third| main.is_of(third))
            && self.counted().all(|third| main.is_at_least_of(third))
        {
            Likeness::MostAlike
        } else {
            Likeness::Apart
        }
    }

    /// Whether no frequency moved further than by so many dB, or the other way.
    pub(super) fn is_within(&self, db: f64) -> bool {
        let most = Mean { db, deviation: 0.0 };
        self.counted().all(|third| most.is_at_least_of(third))
    }

    /// The stretch of frequencies that moved furthest: its ends in Hz, and by how much its middle did, in
    /// dB.
    pub(super) fn furthest(&self) -> Option<(f64, f64, f64)> {
        let beyond = |third: &Third| {
            let least = ALIKE_DB.max(ALIKE_DEVIATIONS * third.deviation);
            (third.db.abs() - least).max(0.0)
        };
        let (top, furthest) = self
            .thirds
            .iter()
            .enumerate()
            .filter(|(_, third)| self.counts(third))
            .max_by(|one, other| beyond(one.1).total_cmp(&beyond(other.1)))?;
        if beyond(furthest) <= 0.0 {
            return None;
        }
        let moves = |third: &&Third| {
            third.db.signum() == furthest.db.signum() && third.db.abs() >= furthest.db.abs() / 2.0
        };
        let below = self.thirds[..=top].iter().rev().take_while(moves).last();
        let above = self.thirds[top..].iter().take_while(moves).last();
        Some((below?.hz, above?.hz, furthest.db))
    }

    /// Whether any band of it fell, or rose, more than chance allows.
    pub(super) fn moves(&self, up: bool) -> bool {
        self.counted().any(|third| {
            let db = if up { third.db } else { -third.db };
            db > ALIKE_DB.max(ALIKE_DEVIATIONS * third.deviation)
        })
    }
}
