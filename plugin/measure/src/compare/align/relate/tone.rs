//! The linear response from mix to export: flat, an equaliser, or an all-pass.

use super::{Band, Related};
use crate::compare::median::median;

/// Coherence of a band that is judged, and its mean square in the mix: −90 dBFS.
const COHERENT: f64 = 0.6;
const LEAST_POWER: f64 = 1e-9;
/// Where bands are judged, in Hz.
const JUDGED_HZ: (f64, f64) = (35.0, 16_500.0);
/// How far a band has to stand from the others, in dB, beyond its error and what it differs over time.
const LEAST_DB: f64 = 0.25;
const SPREADS: f64 = 1.5;
/// Bands, at least, that a response is judged by.
const LEAST_BANDS: usize = 6;
/// Bands side by side that an equaliser moves.
const LEAST_RUN: usize = 2;
/// A band this far down, in dB, is a hole, between bands that are judged no further than so many away; and
/// one band alone is enough for an equaliser.
const HOLE_DB: f64 = -16.0;
const HOLE_BANDS: usize = 2;
/// Levels this near to each other, in dB, are one; and the share of the bands that has to lie there
/// for the gain of all to be known.
const ALIKE_DB: f64 = 0.12;
const ALIKE_SHARE: f64 = 0.4;
/// Noise of a band, against its sound, that tells about the gain; and the usual noise from which a
/// coder is thought of.
const MOST_NOISE: f64 = 0.03;
const CODED_NOISE: f64 = 1e-4;
/// Root of a noise below which bands are equally well known.
const ROOT_FLOOR: f64 = 0.005;
/// How far a coder's gain may be off beside what its bands scatter, in dB; and at most.
const CODED_ERROR_DB: f64 = 0.005;
const CODED_MOST_DB: f64 = 0.012;
/// What noise of a coder may have taken from the sound, or given to it, at most, in dB by its share: all that
/// it is.
const NOISE_TAKES_DB: f64 = 8.7;
/// Error, in dB, below which bands are equally well known.
const ERROR_DB: f64 = 2e-3;
/// Coherence of a band that hints at a response, and how far a flat one may move there, in dB.
const HINTED: f64 = 0.2;
const FLAT_DB: f64 = 0.5;
/// Phase that is no delay, in radians, and the share of the bands that show it.
const TURNED: f64 = 0.5;

/// What the response is.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::compare) struct Tone {
    /// By third-octave: Hz and dB, channels together, where it can be believed.
    pub response: Vec<(f64, f64)>,
    /// Gain that most bands have, in dB, and how far it may be off; by export channel and of all
    /// together. `None` where bands do not agree on one.
    pub gains_db: Vec<Option<(f64, f64)>>,
    pub gain_db: Option<(f64, f64)>,
    /// Whether it is another than flat: the highest and lowest bands that can be told from the gain
    /// of most.
    pub equalised: Option<[(f64, f64); 2]>,
    /// Whether the phase is turned where the level is not.
    pub all_pass: bool,
    /// Whether quiet moments get less than loud ones in many bands: by how much, in dB.
    pub quiet_db: f64,
}

pub(super) fn find(related: &Related) -> Tone {
    let filtered = related.filters.is_some();
    let judged = |band: &Band| {
        (JUDGED_HZ.0..JUDGED_HZ.1).contains(&band.hz)
            && band.coherence >= COHERENT
            && band.power >= LEAST_POWER
    };
    let channels: Vec<Vec<Band>> = related
        .bands
        .iter()
        .map(|bands| {
            let holes = holes(bands, judged);
            let told = bands.iter().zip(holes).filter(|(band, hole)| *hole || judged(band));
            told.map(|(band, hole)| {
                if hole { Band { level_db: band.whole_db, error_db: 0.0, ..*band } } else { *band }
            })
            .collect()
        })
        .collect();
    let gains_db: Vec<Option<(f64, f64)>> = channels.iter().map(|bands| gain(bands)).collect();
    let bands = all_together(channels.iter().flatten().copied());
    let gain_db = gain(&bands);
    // Channels at gains of their own are no filter, however unlike their sound is.
    let known_db =
        gain_db.or(gains_db.iter().copied().collect::<Option<Vec<_>>>().map(|all| all[0]));
    let bands = match known_db {
        Some((known_db, _)) => {
            all_together(channels.iter().zip(&gains_db).flat_map(|(bands, gain)| {
                let apart_db = gain.map_or(0.0, |(own_db, _)| own_db - known_db);
                bands.iter().map(move |band| Band { level_db: band.level_db - apart_db, ..*band })
            }))
        }
        None => bands,
    };
    let mut levels: Vec<f64> = bands.iter().map(|band| band.level_db).collect();
    let middle = known_db.map(|known| known.0).or_else(|| median(&mut levels)).unwrap_or(0.0);
    let mut quiet: Vec<f64> = bands.iter().filter_map(|band| Some(band.over_time_db?.1)).collect();
    let quiet_db = median(&mut quiet).unwrap_or(0.0);
    Tone {
        response: bands.iter().map(|band| (band.hz, band.level_db - middle)).collect(),
        equalised: equalised(&bands, middle),
        all_pass: filtered
            && turned(&channels)
            && equalised(&bands, middle).is_none()
            && related.bands.iter().flatten().all(|band| {
                // Nor does it fall where it is hardly heard.
                band.coherence < HINTED || (band.level_db - middle).abs() < FLAT_DB + band.error_db
            }),
        gains_db,
        gain_db,
        quiet_db,
    }
}

/// Bands that are gone, between others that are not: whatever is left there is all that there can be of
/// the mix.
fn holes(bands: &[Band], judged: impl Fn(&Band) -> bool) -> Vec<bool> {
    let near = |n: usize| {
        let below = &bands[n.saturating_sub(HOLE_BANDS)..n];
        let above = &bands[n + 1..bands.len().min(n + 1 + HOLE_BANDS)];
        below.iter().any(&judged) && above.iter().any(&judged)
    };
    let is_gone = |band: &Band| {
        (JUDGED_HZ.0..JUDGED_HZ.1).contains(&band.hz)
            && band.power >= LEAST_POWER
            && band.whole_db < HOLE_DB
            && !judged(band)
    };
    bands.iter().enumerate().map(|(n, band)| is_gone(band) && near(n)).collect()
}

/// Channels together: each band's level, weighted by what the mix holds there.
fn all_together(channels: impl Iterator<Item = Band>) -> Vec<Band> {
    let mut bands: Vec<Band> = Vec::new();
    for band in channels {
        match bands.iter_mut().find(|known| known.hz == band.hz) {
            Some(known) => *known = together(known, &band),
            None => bands.push(band),
        }
    }
    bands.sort_by(|a, b| a.hz.total_cmp(&b.hz));
    bands
}

fn together(a: &Band, b: &Band) -> Band {
    let linear = |band: &Band| 10f64.powf(band.level_db / 10.0) * band.power;
    let power = a.power + b.power;
    let over_time_db = match (a.over_time_db, b.over_time_db) {
        (Some(a), Some(b)) => Some((a.0.max(b.0), (a.1 + b.1) / 2.0)),
        (one, other) => one.or(other),
    };
    Band {
        level_db: 10.0 * ((linear(a) + linear(b)) / power).log10(),
        error_db: a.error_db.max(b.error_db),
        coherence: a.coherence.min(b.coherence),
        over_time_db,
        power,
        ..*a
    }
}

/// The gain at which most bands lie, and how far it may be off, in dB: of the bands that agree, each
/// counts by how well it is known.
fn gain(bands: &[Band]) -> Option<(f64, f64)> {
    if bands.len() < LEAST_BANDS {
        return None;
    }
    let mut noises: Vec<f64> = bands.iter().map(noise).collect();
    let noise = median(&mut noises)?;
    let (level, error) = gain_of_coded(bands, noise).or_else(|| gain_of_most(bands))?;
    Some((level, error.max(NOISE_TAKES_DB * noise)))
}

fn noise(band: &Band) -> f64 {
    (1.0 - band.coherence).max(0.0)
}

/// Where most bands lie, and how well the best of them is known.
fn gain_of_most(bands: &[Band]) -> Option<(f64, f64)> {
    let near = |level_db: f64| {
        bands.iter().filter(move |band| {
            (band.level_db - level_db).abs() <= ALIKE_DB / 2.0 + band.error_db.min(1.0)
        })
    };
    // Where the best known bands lie densest.
    let score =
        |level_db: f64| near(level_db).map(|band| 1.0 / (0.02 + band.error_db)).sum::<f64>();
    let centre = bands
        .iter()
        .map(|band| (score(band.level_db), band.level_db))
        .max_by(|a, b| a.0.total_cmp(&b.0))?
        .1;
    if (near(centre).count() as f64) < ALIKE_SHARE * bands.len() as f64 {
        return None;
    }
    // The middle of them, each counting by how well it is known: an equaliser's skirts stand aside.
    let mut known: Vec<(f64, f64)> = near(centre)
        .map(|band| (band.level_db, 1.0 / (ERROR_DB + band.error_db).powi(2)))
        .collect();
    known.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = known.iter().map(|band| band.1).sum();
    let mut below = 0.0;
    let middle = known.iter().find(|band| {
        below += band.1;
        below >= whole / 2.0
    })?;
    let best = near(centre).map(|band| band.error_db).fold(f64::INFINITY, f64::min);
    Some((middle.0, best))
}

/// The gain of sound that a coder rounded: rounding with a dead zone takes from the level in proportion
/// to its step, and leaves noise in proportion to the step's square, so that the level without it is
/// where a line through the bands' levels over the root of their noise meets none. `None` where bands
/// are as good as free of noise, or do not lie on a line.
fn gain_of_coded(bands: &[Band], usual_noise: f64) -> Option<(f64, f64)> {
    let clear: Vec<(f64, f64)> = bands
        .iter()
        .filter(|band| noise(band) < MOST_NOISE)
        .map(|band| (noise(band).sqrt(), band.level_db))
        .collect();
    if clear.len() < LEAST_BANDS || usual_noise < CODED_NOISE {
        return None;
    }
    let weight = |root: f64| 1.0 / (ROOT_FLOOR + root).powi(2);
    let sum = |of: &dyn Fn(f64, f64) -> f64| -> f64 {
        clear.iter().map(|&(x, y)| weight(x) * of(x, y)).sum()
    };
    let (w, x, y) = (sum(&|_, _| 1.0), sum(&|x, _| x), sum(&|_, y| y));
    let (xx, xy) = (sum(&|x, _| x * x), sum(&|x, y| x * y));
    let spread = xx - x * x / w;
    let slope = if spread > 0.0 { ((xy - x * y / w) / spread).min(0.0) } else { 0.0 };
    let level = (y - slope * x) / w;
    let miss = sum(&|x, y| (y - level - slope * x).powi(2)) / w;
    let error = (miss / clear.len() as f64).sqrt() + CODED_ERROR_DB;
    (error < CODED_MOST_DB).then_some((level, error))
}

/// The highest and the lowest band of a response that is not flat: at least a few bands side by side
/// stand from the gain of most by more than they may be off and differ over time.
fn equalised(bands: &[Band], middle: f64) -> Option<[(f64, f64); 2]> {
    if bands.len() < LEAST_BANDS {
        return None;
    }
    let moved = |band: &Band| {
        let spread = band.over_time_db.map_or(0.0, |(spread, quiet)| spread.max(quiet.abs()));
        let far = band.level_db - middle;
        let least = LEAST_DB + band.error_db + SPREADS * spread;
        if far.abs() > least { far.signum() as i32 } else { 0 }
    };
    let sides: Vec<i32> = bands.iter().map(moved).collect();
    let runs = sides.windows(LEAST_RUN).any(|run| run[0] != 0 && run.iter().all(|s| *s == run[0]));
    let has_hole = bands.iter().any(|band| band.level_db - middle < HOLE_DB);
    if !runs && !has_hole {
        return None;
    }
    let told = bands.iter().filter(|band| band.error_db < 1.0).map(|band| (band.hz, band.level_db));
    let highest = told.clone().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let lowest = told.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some([highest, lowest])
}

/// Whether the phase of a channel is not the same in all bands although its level is.
fn turned(channels: &[Vec<Band>]) -> bool {
    channels.iter().any(|bands| {
        let sum: realfft::num_complex::Complex64 = bands
            .iter()
            .map(|band| realfft::num_complex::Complex64::from_polar(1.0, band.phase))
            .sum();
        let usual = sum.arg();
        let away = |band: &&Band| {
            let apart = (band.phase - usual).rem_euclid(std::f64::consts::TAU);
            apart.min(std::f64::consts::TAU - apart) > TURNED
        };
        bands.len() >= LEAST_BANDS && 5 * bands.iter().filter(away).count() >= bands.len()
    })
}
