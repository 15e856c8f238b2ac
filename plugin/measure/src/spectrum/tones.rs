//! The strongest steady tones outside the audible band.

use super::analyser::{Analyser, LOBE_BINS};
use crate::level::Level;
use crate::reading::{MOST_TONES, Tone, Tones};
use crate::settings::Edges;

/// How far a tone has to stand above what surrounds it. The strongest of a few thousand bins of
/// plain noise stands 10 dB above their mean after a single transform, and less after more.
const LEAST_PROMINENCE: f64 = 15.85;
/// Weakest tone worth naming, as a power: −120 dBFS.
const LEAST_POWER: f64 = 1e-12;
/// Surroundings reach from just outside the lobe to this many bins away.
const SURROUNDINGS_BINS: usize = 20;
/// An upper edge passes part of what lies this close above it.
const UPPER_MARGIN: f64 = 1.02;

/// The strongest tones below the lower edge (from the transform at the low rate) and above the
/// upper edge, strongest first.
pub(crate) fn strongest_tones(low: &Analyser, full: &Analyser, edges: Edges) -> Tones {
    let mut found = [(0.0, 0.0); MOST_TONES];
    // The lobe of DC reaches over the first bins.
    collect(&mut found, low, LOBE_BINS as f64 * low.bin_hz(), edges.low_hz);
    collect(&mut found, full, edges.high_hz * UPPER_MARGIN, f64::INFINITY);
    let mut tones = Tones::default();
    for (power, hz) in found {
        if power >= LEAST_POWER {
            tones.push(Tone { hz, dbfs: Level::from_power(power) });
        }
    }
    tones
}

/// Adds the tones between two frequencies to a list of (power, Hz), strongest first.
fn collect(found: &mut [(f64, f64); MOST_TONES], analyser: &Analyser, low_hz: f64, high_hz: f64) {
    let first = (low_hz / analyser.bin_hz()).floor() as usize + 1;
    let last = analyser.bins().saturating_sub(LOBE_BINS + 1);
    for bin in first.max(LOBE_BINS + 1)..last {
        let hz = bin as f64 * analyser.bin_hz();
        if hz >= high_hz {
            break;
        }
        if let Some(tone) = tone_at(analyser, bin)
            && tone.0 > found[MOST_TONES - 1].0
        {
            found[MOST_TONES - 1] = tone;
            found.sort_unstable_by(|x, y| y.0.total_cmp(&x.0));
        }
    }
}

/// Mean power and frequency of the tone that peaks at `bin`, if one does. Works on sums over all
/// transforms: a division a bin would cost more than the rest of the search.
fn tone_at(analyser: &Analyser, bin: usize) -> Option<(f64, f64)> {
    let [before, here, behind] = [bin - 1, bin, bin + 1].map(|bin| analyser.sum(bin));
    if here < before || here <= behind {
        return None;
    }
    // Most bumps of plain noise fail this already, and the mean below costs much more.
    let beside = [bin - LOBE_BINS - 1, bin + LOBE_BINS + 1].map(|bin| analyser.sum(bin));
    if here < LEAST_PROMINENCE * beside[0].min(beside[1]) {
        return None;
    }
    let floor = surroundings(analyser, bin);
    if here < LEAST_PROMINENCE * floor {
        return None;
    }
    let lobe = bin - LOBE_BINS..=bin + LOBE_BINS;
    let raised: f64 = lobe.map(|bin| (analyser.sum(bin) - floor).max(0.0)).sum();
    // The lobe of this window is close to a parabola in decibels.
    let [l, m, r] = [before, here, behind].map(|power| power.max(f64::MIN_POSITIVE).ln());
    let offset = if l - 2.0 * m + r < 0.0 { 0.5 * (l - r) / (l - 2.0 * m + r) } else { 0.0 };
    let hz = (bin as f64 + offset) * analyser.bin_hz();
    let transforms = analyser.transforms() as f64;
    Some((raised / transforms / Analyser::noise_bandwidth_bins(), hz))
}

/// Mean of the sums around a bin, its lobe left out.
fn surroundings(analyser: &Analyser, bin: usize) -> f64 {
    let below = bin.saturating_sub(SURROUNDINGS_BINS).max(LOBE_BINS)..bin.saturating_sub(LOBE_BINS);
    let above = bin + LOBE_BINS + 1..(bin + SURROUNDINGS_BINS).min(analyser.bins());
    let mut count = 0.0;
    let mut sum = 0.0;
    for bin in below.chain(above) {
        count += 1.0;
        sum += analyser.sum(bin);
    }
    if count == 0.0 { 0.0 } else { sum / count }
}
