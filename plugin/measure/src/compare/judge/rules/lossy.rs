//! Whether the difference looks like lossy coding: noise that no linear filter explains, that rises
//! and falls with the sound as much as it does, that is there in nearly every moment, and within it.
//! An end of the spectrum below that of the mix makes it likely; without one it is only possible.

use super::{Facts, sound};
use crate::compare::median::median;
use crate::compare::pass::Block;
use crate::compare::purpose::PurposeBy;
use crate::compare::record::Comparison;

/// Noise below the sound, in dB, that coding leaves: more than this is distortion, less is rounding.
const NOISE_DB: (f64, f64) = (-65.0, -3.0);
/// How the noise of a band follows the sound of that band from moment to moment: least correlation, and by
/// how many dB for each of the sound's. Noise that was added, and another programme, go their own ways;
/// distortion rises faster.
const LEAST_CORRELATION: f64 = 0.13;
const SLOPES: (f64, f64) = (0.1, 1.1);
/// Share of the noise that each band's gain of the moment leaves over, at least, and gains of hundredths of a
/// second: what a gain explains, however fast it moves, is no noise.
const LEAST_OWN: f64 = 0.8;
const LEAST_BY_GAINS: f64 = 0.85;
/// Share of the moments, at least, in which there is noise above a level against the sound, in dB.
const EVERYWHERE_SHARE: f64 = 0.9;
const EVERYWHERE_DB: f64 = -70.0;
/// Mean square below which a moment is not judged: −60 dBFS.
const LEAST_POWER: f64 = 1e-6;
const LEAST_BLOCKS: usize = 50;

/// Where coders end the spectrum, in Hz.
pub(super) const EDGE_HZ: std::ops::Range<f64> = 10_000.0..21_900.0;

/// What speaks for it.
#[derive(Debug, Clone, Copy)]
pub(in crate::compare::judge) struct Lossy {
    /// Noise against sound, median over the bands, in dB.
    pub noise_db: f64,
    /// Whether the end of the spectrum says so as well.
    pub sure: bool,
}

pub(super) fn judge(record: &Comparison, facts: &Facts) -> Option<Lossy> {
    if facts.is_equal || facts.is_rounding {
        return None;
    }
    let residual = record.residual?;
    let relative_db = residual.relative_db.finite()?;
    if relative_db < EVERYWHERE_DB {
        return None;
    }
    if facts.limited || facts.stories.bend.is_some() || sound::lingers(facts) {
        return None;
    }
    let bands = bands(record, facts);
    if bands.len() < 8 {
        return None;
    }
    let mut ratios: Vec<f64> = bands.iter().map(|(sound, noise)| noise - sound).collect();
    let noise_db = median(&mut ratios)?;
    // What each band's own gain explains at any moment is no noise, and what stays at one level is no
    // coder's.
    let is_gain = facts.own_gain_left < LEAST_OWN || facts.gain_leaves < LEAST_BY_GAINS;
    if is_gain || !facts.matrix_holds || facts.stories.rest.steady {
        return None;
    }
    // Nor without an end of the spectrum beside a filter: what makes overtones looks the same.
    let is_known = record.purpose_by == PurposeBy::Codec;
    if facts.filtered && !facts.has_edge && !is_known {
        return None;
    }
    // Of a coded file it is known; there it is only asked whether anything else was done.
    let follows = is_known
        || facts.left_follows.is_some_and(|(correlation, slope)| {
            correlation >= LEAST_CORRELATION && (SLOPES.0..=SLOPES.1).contains(&slope)
        });
    let looks = (NOISE_DB.0..=NOISE_DB.1).contains(&noise_db) && follows && is_everywhere(facts)?;
    looks.then_some(Lossy { noise_db, sure: facts.has_edge })
}

/// Levels of sound and of unexplained noise in dB, by third-octave, inside the band that both hold.
fn bands(record: &Comparison, facts: &Facts) -> Vec<(f64, f64)> {
    let spectra = &facts.passed.spectra;
    let unexplained = spectra.unexplained();
    let half = 10f64.powf(0.05);
    let end_hz = record.band_limit_hz.unwrap_or(16_000.0).min(16_000.0);
    (-8..=12)
        .map(|n| 1_000.0 * 10f64.powf(f64::from(n) / 10.0))
        .filter(|hz| hz * half < end_hz)
        .filter_map(|hz| {
            let sound = spectra.power(&spectra.yy, hz / half, hz * half);
            let noise = spectra.power(&unexplained, hz / half, hz * half);
            (sound > 1e-11 && noise > 0.0).then(|| (10.0 * sound.log10(), 10.0 * noise.log10()))
        })
        .collect()
}

/// Whether there is noise in nearly every moment; `None` where too few tell.
fn is_everywhere(facts: &Facts) -> Option<bool> {
    // Ten blocks together, so that a moment's chance does not count.
    let ratios: Vec<f64> = facts
        .passed
        .blocks
        .chunks(10)
        .zip(facts.counts.chunks(10))
        .filter(|(_, counts)| counts.iter().all(|counts| *counts))
        .filter_map(|(blocks, _)| {
            let sum =
                |part: fn(&Block) -> f32| blocks.iter().map(|b| f64::from(part(b))).sum::<f64>();
            let frames: f64 = blocks.iter().map(|block| f64::from(block.frames)).sum();
            let (heard, left) = (sum(|b| b.heard), sum(|b| b.rest));
            (heard > LEAST_POWER * frames).then(|| 10.0 * (left.max(1e-20) / heard).log10())
        })
        .collect();
    let noisy = ratios.iter().filter(|db| **db > EVERYWHERE_DB).count();
    let is_everywhere = noisy as f64 >= EVERYWHERE_SHARE * ratios.len() as f64;
    (ratios.len() >= LEAST_BLOCKS / 10).then_some(is_everywhere)
}
