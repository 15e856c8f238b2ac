//! A copy of a sound that comes late makes a comb of its spectrum: the cepstrum of the ratio of two
//! spectra has a peak at the delay.
//!
//! Of a sound and its copy at `g` times its amplitude, T later, the power is that of the sound times
//! |1 + g·e^(−iωT)|². A window of length F sees the product of the two only as far as both lie under it,
//! which leaves w(T/F) of 2g·cos ωT. So the cepstrum's peak q at T obeys q/(1 + q²) = w·g/(1 + g²).

use serde::Serialize;

use super::super::cepstrum::{Cepstrum, Plans};
use super::super::evidence::{Evidence, Fine, Kept};
use super::super::finder::{BANDS, band_at};
use crate::hann;

/// Bins this far below the middle of all in both spectra say nothing, in dB: the teeth of a comb are
/// deep, but not in both.
const LEAST_DB: f64 = 30.0;
/// Transforms that each spectrum is the mean of, at least.
const LEAST_TRANSFORMS: u64 = 3;
/// A copy is told in one entry alone where its peak is at least so many times the other's.
const LEAST_OWN: f64 = 2.0;

/// A copy of a sound.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CopyFound {
    /// By how much it comes late, in ms.
    pub delay_ms: f64,
    /// Its level against that of the sound: of the weaker of the two against the stronger, in dB.
    pub level_db: f64,
    /// Whether it comes inverted.
    pub inverted: bool,
}

/// In which of two entries a copy is heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Combs {
    pub(super) before: Option<CopyFound>,
    pub(super) after: Option<CopyFound>,
}

/// Looks for a copy that is heard in one of two entries and not in the other, or at another delay.
pub(super) fn find([before, after]: [&Evidence; 2], kept: fn(&Fine) -> &Kept) -> Option<Combs> {
    let steady: Vec<usize> = (0..BANDS)
        .filter(|band| [before, after].iter().all(|e| e.scatter.is_band_steady(*band)))
        .collect();
    let (before, after) = (&before.fine, &after.fine);
    let is_enough = before.transforms.min(after.transforms) >= LEAST_TRANSFORMS;
    if !is_enough || before.bin_hz != after.bin_hz {
        return None;
    }
    let (one, other) = (kept(before), kept(after));
    let [least_one, least_other] = [one, other].map(|kept| kept.median_db() - LEAST_DB);
    let is_steady = |bin: usize| steady.contains(&band_at(bin as f64 * before.bin_hz));
    let counts = |bin: usize| one.db(bin) >= least_one || other.db(bin) >= least_other;
    let bins: Vec<usize> =
        (1..one.len().min(other.len())).filter(|&bin| is_steady(bin) && counts(bin)).collect();
    let plans = Plans::default();
    let cepstrum =
        |level: &dyn Fn(usize) -> f64| Cepstrum::new(&plans, &bins, before.bin_hz, level);
    let ratio = cepstrum(&|bin| other.db(bin) - one.db(bin))?;
    let (delay_s, height) = ratio.peak()?;
    let transforms = [before.transforms, after.transforms];
    if !ratio.is_comb(delay_s, height) || !ratio.is_noise_like(height, transforms) {
        return None;
    }
    let [own_before, own_after] = [one, other]
        .map(|kept| cepstrum(&|bin| kept.db(bin)).map_or(0.0, |cepstrum| cepstrum.at(delay_s)));
    let copy = |delay_s: f64, height: f64| CopyFound {
        delay_ms: delay_s * 1e3,
        level_db: 20.0 * amplitude(height.abs(), hann::overlap(delay_s * before.bin_hz)).log10(),
        inverted: height < 0.0,
    };
    // The other entry may hold one as well, at another delay.
    let alone = |kept: &Kept| {
        let cepstrum = cepstrum(&|bin| kept.db(bin))?;
        let (delay_s, height) = cepstrum.peak()?;
        cepstrum.is_comb(delay_s, height).then(|| copy(delay_s, height))
    };
    if own_after.abs() >= LEAST_OWN * own_before.abs() {
        Some(Combs { before: alone(one), after: Some(copy(delay_s, height)) })
    } else if own_before.abs() >= LEAST_OWN * own_after.abs() {
        Some(Combs { before: Some(copy(delay_s, -height)), after: alone(other) })
    } else {
        None
    }
}

/// The amplitude, up to 1, of a copy whose peak in the cepstrum is `height`.
fn amplitude(height: f64, overlap: f64) -> f64 {
    let height = height.min(1.0);
    let product = (height / (1.0 + height * height) / overlap).min(0.5);
    (1.0 - (1.0 - 4.0 * product * product).max(0.0).sqrt()) / (2.0 * product)
}
