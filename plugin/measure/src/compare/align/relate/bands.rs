//! The response by third-octave, and how far it can be believed.

use realfft::num_complex::Complex64;

use super::gather::Gathered;

/// Mid-bands: 25 Hz to 20 kHz (IEC 61260-1:2014, base ten).
const MIDDLES: std::ops::RangeInclusive<i32> = -16..=13;

/// One third-octave band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::compare) struct Band {
    pub hz: f64,
    /// What of the export comes from the mix, against the mix, in dB.
    pub level_db: f64,
    /// All of the export against the mix, in dB.
    pub whole_db: f64,
    /// How far that may be off, in dB.
    pub error_db: f64,
    /// Phase of the export against the mix, in radians.
    pub phase: f64,
    /// How much of the export the mix explains, 0 to 1.
    pub coherence: f64,
    /// Mean square of the mix in it.
    pub power: f64,
    /// How its gain differs from moment to moment, in dB (half the middle two thirds), and how much
    /// more of it quiet moments get than loud ones; `None` where too few moments tell.
    pub over_time_db: Option<(f64, f64)>,
}

/// The bands of an export channel in which there is sound.
pub(super) fn of(gathered: &Gathered, channel: usize, pattern: &[f64]) -> Vec<Band> {
    let half = 10f64.powf(0.05);
    MIDDLES
        .filter_map(|n| {
            let hz = 1_000.0 * 10f64.powf(f64::from(n) / 10.0);
            let first = (hz / half / gathered.bin_hz).round() as usize;
            let last = (hz * half / gathered.bin_hz).round() as usize;
            let bins = first.max(1)..last.min(gathered.bins());
            band(gathered, channel, pattern, hz, bins)
        })
        .collect()
}

fn band(
    gathered: &Gathered,
    channel: usize,
    pattern: &[f64],
    hz: f64,
    bins: std::ops::Range<usize>,
) -> Option<Band> {
    let (mut zz, mut yy, mut explained) = (0.0, 0.0, 0.0);
    let mut turned = Complex64::default();
    let count = bins.len();
    for bin in bins {
        let (power, cross) = gathered.pair(channel, pattern, bin);
        zz += power;
        yy += gathered.yy(channel, bin);
        explained += if power > 0.0 { cross.norm_sqr() / power } else { 0.0 };
        turned += cross;
    }
    let power = zz / gathered.count.max(1) as f64;
    if zz <= 0.0 || yy <= 0.0 || count == 0 {
        return None;
    }
    // A response is found for noise as well.
    let bias = (1.0 - gathered.free(1)).max(0.0);
    let clear = ((explained / yy - bias) / (1.0 - bias)).clamp(1e-9, 1.0);
    let level_db = 10.0 * (clear * yy / zz).log10();
    // Scatter of the estimate, and as much of the noise as may have been taken from the sound.
    let noise = (1.0 - clear).max(0.0);
    let windows = (gathered.count * count) as f64 / 2.0;
    let scatter_db = 8.7 * (noise / (2.0 * clear * windows)).sqrt();
    // A coder at its best leaves out as much of the sound as the noise that it adds has of it.
    let taken_db = 8.7 * noise / clear;
    Some(Band {
        hz,
        level_db,
        whole_db: 10.0 * (yy / zz).log10(),
        error_db: 3.0 * scatter_db + taken_db,
        phase: turned.arg(),
        coherence: clear,
        power,
        over_time_db: gathered.over_windows(channel, hz),
    })
}
