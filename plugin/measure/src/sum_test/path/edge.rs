//! Where a path really ends: where a steep filter leaves nothing of what lies above.
//!
//! An equaliser slopes, an echo combs, a mean of two samples falls to nothing at half the rate, and
//! each of them has a last frequency at which it is 3 dB down; but what lies above still reaches the
//! recording. So an end is told only where everything above it is missing, and missing at once.

use realfft::num_complex::Complex32;

use super::references::References;

/// Width of the bands, in Hz.
const BAND_HZ: f64 = 250.0;
/// What lies this far below what comes before the edge is missing: −40 dB.
const MISSING: f64 = 1e-4;
/// The edge may take this ratio of frequencies from −3 dB to where nothing is left.
const STEEP: f64 = 1.2;
/// Where the level before the edge is taken, as shares of where the last of it is.
const BEFORE: (f64, f64) = (0.65, 0.8);

/// The frequency at which a path ends, in Hz: 3 dB down, and nothing left above. Two takes of the path
/// tell its power apart from their noises'.
pub(super) fn upper_edge_hz(takes: [&[Complex32]; 2], references: &References) -> Option<f64> {
    let band_bins = references.bins_in(BAND_HZ);
    let powers: Vec<f64> = (0..references.a.len() / band_bins)
        .map(|band| {
            let range = band * band_bins..(band + 1) * band_bins;
            let (mut own, mut known) = (0.0, 0.0);
            for bin in range {
                own += f64::from((takes[0][bin].conj() * takes[1][bin]).re);
                known += f64::from(references.a[bin].norm_sqr());
            }
            own / known
        })
        .collect();
    let hz = |band: usize| (band as f64 + 0.5) * BAND_HZ;
    let most = powers.iter().copied().fold(0.0, f64::max);
    // From above, the first band in which there is something, against what comes before it.
    let (last, before) = (0..powers.len()).rev().find_map(|last| {
        let from = (BEFORE.0 * last as f64) as usize;
        let to = (BEFORE.1 * last as f64) as usize;
        let own = powers.get(from..to).filter(|own| !own.is_empty())?;
        let before = own.iter().sum::<f64>() / own.len() as f64;
        (before > MISSING * most && powers[last] > MISSING * before).then_some((last, before))
    })?;
    let level = |band: usize| powers.get(band).copied().unwrap_or(0.0);
    let edge = (0..=last).rev().find(|&band| level(band) > before / 2.0)?;
    let share = (level(edge) - before / 2.0) / (level(edge) - level(edge + 1));
    let edge_hz = hz(edge) + share * BAND_HZ;
    let reaches_end = last + 2 >= powers.len();
    (!reaches_end && hz(last) < STEEP * edge_hz).then_some(edge_hz)
}
