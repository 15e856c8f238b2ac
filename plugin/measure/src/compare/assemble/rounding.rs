//! Word length, and how a longer word was made shorter.
//!
//! A step of `q` leaves rounding of variance `q²/12`; rectangular dither adds as much, triangular
//! dither twice as much (S. P. Lipshitz, R. A. Wannamaker, J. Vanderkooy, "Quantization and dither: a
//! theoretical survey", J. Audio Eng. Soc. 40, 1992).

use crate::compare::pass::{CrossSpectra, Tallies};
use crate::compare::record::{Dither, WordChange};
use crate::level::Level;

/// How far the noise may lie from what a kind of dither leaves, in dB.
const NEAR_DB: f64 = 0.8;
/// Steps that the largest difference reaches: half for rounding, one with rectangular dither, one
/// and a half with triangular dither.
const REACHES: [(Dither, f64, f64); 3] =
    [(Dither::Plain, 1.0, 0.5), (Dither::Rectangular, 2.0, 1.0), (Dither::Triangular, 3.0, 1.5)];
/// Slack on the largest difference, in steps.
const REACH_SLACK: f64 = 0.02;
/// Share of samples that may miss, where dither is none.
const MISSES: f64 = 1e-6;
/// Band in which noise is taken to be white, in Hz.
const WHITE_HZ: (f64, f64) = (1_000.0, 10_000.0);
/// Band in which noise shaped in frequency lies highest, in Hz, and how much higher, in dB.
const SHAPED_HZ: (f64, f64) = (12_000.0, 20_000.0);
const SHAPED_DB: f64 = 6.0;
/// How far above plain rounding shaped noise may lie in total, in dB.
const SHAPED_MOST_DB: f64 = 40.0;

/// What the export's words are, if they lie on a grid up to 24 bits.
pub(in crate::compare) fn judge(
    mix_bits: Option<u32>,
    export_bits: Option<u32>,
    tallies: &Tallies,
    spectra: &CrossSpectra,
    is_whole: bool,
) -> Option<WordChange> {
    let export_bits = export_bits.filter(|bits| (8..=24).contains(bits))?;
    let step = 2f64.powi(1 - export_bits as i32);
    let shortened = mix_bits.is_none_or(|bits| bits > export_bits);
    let noise = white_noise(spectra);
    let plain = step * step / 12.0;
    let mut change = WordChange {
        mix_bits,
        export_bits,
        dither: None,
        expected_dbfs: Level::NONE,
        measured_dbfs: Level::from_power(noise),
    };
    if tallies.unequal == 0 || !(shortened || noise > 0.0) {
        return Some(change);
    }
    // On a grid that the mix has already, and between its samples, every word is new.
    if !shortened && !is_whole {
        return Some(change);
    }
    let dither = dither(tallies, spectra, noise, step, is_whole);
    // On a grid that the mix has already, only noise of a grid's size says that dither was added.
    if !shortened && matches!(dither, Dither::CannotTell | Dither::Plain | Dither::Truncated) {
        return Some(change);
    }
    change.dither = Some(dither);
    change.expected_dbfs = match dither {
        Dither::Plain | Dither::Truncated => Level::from_power(plain),
        Dither::Rectangular => Level::from_power(2.0 * plain),
        Dither::Triangular => Level::from_power(3.0 * plain),
        Dither::Shaped | Dither::CannotTell => Level::NONE,
    };
    if dither == Dither::Shaped {
        change.measured_dbfs = Level::from_power(spectra.ee.iter().sum());
    }
    Some(change)
}

fn dither(
    tallies: &Tallies,
    spectra: &CrossSpectra,
    noise: f64,
    step: f64,
    is_whole: bool,
) -> Dither {
    let few = |misses: u64| misses as f64 <= MISSES * tallies.samples as f64;
    if few(tallies.not_rounded) {
        return Dither::Plain;
    }
    if few(tallies.not_truncated) {
        return Dither::Truncated;
    }
    let db = |power: f64| 10.0 * power.log10();
    let above_plain_db = db(noise / (step * step / 12.0));
    let reach = tallies.peak / step;
    for (kind, powers, steps) in REACHES {
        let level_fits = (above_plain_db - db(powers)).abs() <= NEAR_DB;
        // Only where nothing else was done does the largest difference say anything.
        let reach_fits = !is_whole || reach <= steps + REACH_SLACK || tallies.peak > 10.0 * step;
        if level_fits && reach_fits {
            return kind;
        }
    }
    let total = db(spectra.ee.iter().sum::<f64>() / (step * step / 12.0));
    let density = |(low, high): (f64, f64)| spectra.power(&spectra.ee, low, high) / (high - low);
    let end_hz = spectra.bin_hz * spectra.ee.len() as f64;
    let rise_db = db(density(SHAPED_HZ) / density((WHITE_HZ.0, 6_000.0)));
    if end_hz > SHAPED_HZ.1 && rise_db >= SHAPED_DB && total <= SHAPED_MOST_DB && reach < 100.0 {
        return Dither::Shaped;
    }
    Dither::CannotTell
}

/// Power that the difference would have if it were as dense everywhere as in the middle of the band
/// where it is white: the median over bands, so that tones and filters do not count.
fn white_noise(spectra: &CrossSpectra) -> f64 {
    const BAND_HZ: f64 = 200.0;
    let bands = ((WHITE_HZ.1 - WHITE_HZ.0) / BAND_HZ) as usize;
    let mut densities: Vec<f64> = (0..bands)
        .map(|band| {
            let low = WHITE_HZ.0 + band as f64 * BAND_HZ;
            spectra.power(&spectra.ee, low, low + BAND_HZ) / BAND_HZ
        })
        .collect();
    let end_hz = spectra.bin_hz * spectra.ee.len().saturating_sub(1) as f64;
    crate::compare::median::median(&mut densities).unwrap_or(0.0) * end_hz
}
